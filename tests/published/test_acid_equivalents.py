"""Acid-equivalent factors from molecular weights, by a general-purpose chemistry library.

Computed by molmass from the formulas. Published handbook weights (Tomlin, c. 2003): 2,4-D acid 221.0,
dicamba acid 221.0 and its dimethylamine salt 266.1, MCPA acid 200.6 and its dimethylamine salt 245.7.
"""

from __future__ import annotations

import pytest
from molmass import Formula

from knowledge.base import KnowledgeBase
from knowledge.quantities import acid_equivalent_factor

# Parent acids; 2,4-D, dicamba and MCPA as published, the others by their formulas.
ACIDS = {
    "2-4-d": "C8H6Cl2O3",
    "mecoprop-p": "C10H11ClO3",
    "mcpa": "C9H9ClO3",
    "dichlorprop-p": "C9H8Cl2O3",
    "dicamba": "C8H6Cl2O3",
    "triclopyr": "C7H4Cl3NO3",
    "clopyralid": "C6H3Cl2NO2",
    "fluroxypyr": "C7H5Cl2FN2O3",
    "quinclorac": "C10H5Cl2NO2",
    "glyphosate": "C3H8NO5P",
}
# Published: Tomlin (c. 2003), handbook entries [g/mol].
HANDBOOK = {"C8H6Cl2O3": 221.0, "C9H9ClO3": 200.6, "C10H13Cl2NO3": 266.1, "C11H16ClNO3": 245.7}


@pytest.mark.parametrize("formula", sorted(HANDBOOK))
def test_the_library_gives_the_handbook_weight(formula: str) -> None:
    assert Formula(formula).mass == pytest.approx(HANDBOOK[formula], abs=0.1)


@pytest.mark.parametrize("active", sorted(ACIDS))
def test_each_form_has_the_factor_of_its_weight(base: KnowledgeBase, active: str) -> None:
    acid = Formula(ACIDS[active]).mass
    checked = 0
    for form in base.actives[active].forms:
        if form.formula is None or form.ae_factor is None:
            continue
        whole = Formula(form.formula).mass
        assert form.molecular_weight == pytest.approx(whole, rel=1e-3), form.id
        assert form.ae_factor == pytest.approx(acid_equivalent_factor(acid, whole), abs=1.5e-3), form.id
        checked += 1
    assert checked
