"""The knowledge base in memory: facts by id, and the look-ups the engine needs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from pydantic import BaseModel, ConfigDict

from knowledge.entries import LazyEntries
from knowledge.models import (
    Active,
    Adjuvant,
    Citation,
    Climate,
    CustomerSentence,
    FormulationFact,
    Growth,
    Interaction,
    LikelyWeeds,
    Measures,
    MechanismUse,
    MixStep,
    Mixture,
    Notice,
    Parameter,
    ProposalSentence,
    PublishedResult,
    RecordField,
    Rule,
    ShiftFact,
    Site,
    Source,
    Surrounding,
    Tolerance,
    Trait,
    Turf,
    TurfRate,
    Weed,
    ZoneFact,
)

PRESSURES = ("high", "moderate", "low")


class WeedNames(BaseModel):
    """What a weed is called, so that it is found without reading all that is known of it."""

    model_config = ConfigDict(frozen=True)

    name: str
    every: tuple[str, ...]
    usually_meant_by: tuple[str, ...]


class Likely(NamedTuple):
    """A weed that usually stands somewhere, how much of it, and why."""

    weed: str
    pressure: str
    text: str
    sources: tuple[Citation, ...]


@dataclass(frozen=True)
class KnowledgeBase:
    """Everything that is known, checked and frozen.

    `version` is a digest of the fact files, so equal facts give an equal version.
    """

    version: str
    weeds: Mapping[str, Weed]
    actives: Mapping[str, Active]
    turf: Mapping[str, Turf]
    rules: Mapping[str, Rule]
    mixtures: Mapping[str, Mixture]
    interactions: Mapping[str, Interaction]
    adjuvants: Mapping[str, Adjuvant]
    zones: Mapping[str, ZoneFact]
    surroundings: Mapping[str, Surrounding]
    sites: Mapping[str, Site]
    shifts: Mapping[str, ShiftFact]
    parameters: Mapping[str, Parameter]
    notices: Mapping[str, Notice]
    traits: Mapping[str, Trait]
    formulations: Mapping[str, FormulationFact]
    measures: Mapping[str, Measures]
    steps: Mapping[str, MixStep]
    growth: Mapping[str, Growth]
    records: Mapping[str, RecordField]
    customer: Mapping[str, CustomerSentence]
    climate: Mapping[str, Climate]
    mechanisms: Mapping[str, MechanismUse]
    likely: Mapping[str, LikelyWeeds]
    proposal: Mapping[str, ProposalSentence]
    results: Mapping[str, PublishedResult]
    sources: Mapping[str, Source]
    overlaid: frozenset[str] = field(default=frozenset())
    kept_names: Mapping[str, WeedNames] | None = field(default=None, compare=False)

    def parameter(self, name: str) -> float:
        """Value of a parameter of the control model."""
        return self.parameters[name].value

    def usual_max_f(self, zone: str, month: int) -> tuple[float, float]:
        """Usual highest air temperature of a day in a month (1 to 12) [F]: of the coolest and the warmest places."""
        return self.climate[zone].max_f[month - 1]

    def must_alternate(self, group: str, weed: str) -> bool:
        """Whether another mechanism must act on a weed in the year after this group did."""
        use = self.mechanisms[group]
        return use.alternate_years and (not use.alternate_weeds or weed in use.alternate_weeds)

    def likely_weeds(self, zone: str, turf: str, site_use: str) -> tuple[Likely, ...]:
        """Weeds that usually stand on turf where nobody has looked yet.

        Parameters
        ----------
        turf : str
            A turf by its id, or `cool-season` or `warm-season`.

        Returns
        -------
        tuple of Likely
            The heaviest pressure first, the turf itself left out; empty where nothing is recorded.
        """
        known = self.turf.get(turf)
        fits = []
        for item in self.likely.values():
            rank = applies_to_turf(item.turf, known) if known else int(turf in item.turf) - 1
            if zone in item.zones and rank >= 0 and (site_use in item.site_uses or not item.site_uses):
                fits.append((site_use in item.site_uses, rank, item))
        if not fits:
            return ()
        found = max(fits, key=lambda fit: fit[:2])[2]
        told = [
            Likely(told.weed, told.pressure, told.text, found.sources)
            for told in found.weeds
            if turf not in self.weeds[told.weed].same_species_turf
        ]
        return tuple(sorted(told, key=lambda item: PRESSURES.index(item.pressure)))

    @cached_property
    def weed_names(self) -> Mapping[str, WeedNames]:
        """Names of every weed, by id."""
        kept = self.kept_names
        if kept is not None and isinstance(self.weeds, LazyEntries):
            return kept
        return {
            key: WeedNames(name=weed.name, every=names_of(weed), usually_meant_by=weed.usually_meant_by)
            for key, weed in self.weeds.items()
        }

    @cached_property
    def interacting(self) -> Mapping[frozenset[str], tuple[Interaction, ...]]:
        """Recorded interactions by the pair of actives they are of."""
        pairs: dict[frozenset[str], tuple[Interaction, ...]] = {}
        for item in self.interactions.values():
            for first in item.actives:
                for second in item.partners:
                    key = frozenset((first, second))
                    pairs[key] = (*pairs.get(key, ()), item)
        return pairs

    def form_owner(self, form: str) -> str | None:
        """The active that a form belongs to, or None."""
        return next((a.id for a in self.actives.values() if any(f.id == form for f in a.forms)), None)


def names_of(weed: Weed) -> tuple[str, ...]:
    """Every name a weed is known by, the common name first."""
    genus_species = " ".join(weed.scientific_name.split()[:2])
    return (weed.name, *weed.synonyms, genus_species, weed.id.replace("-", " "), weed.eppo)


def applies_to_turf(scope: tuple[str, ...], turf: Turf) -> int:
    """How specifically a scope of turf ids, classes and seasons names this turf.

    Returns
    -------
    int
        3 by id, 2 by rate class, 1 by season, 0 by `all`, -1 not at all.
    """
    for rank, name in ((3, turf.id), (2, turf.rate_class), (1, turf.season), (0, "all")):
        if name in scope:
            return rank
    return -1


def rate_for(active: Active, turf: Turf, timing: str) -> TurfRate | None:
    """The most specific usual rate of an active on this turf, or None where none is known."""
    ranked = [
        (applies_to_turf(rate.turf, turf), -index, rate)
        for index, rate in enumerate(active.rates)
        if rate.timing == timing
    ]
    best = max(ranked, key=lambda item: item[:2], default=None)
    return best[2] if best is not None and best[0] >= 0 else None


def tolerance_for(turf: Turf, active: str, site_use: str) -> Tolerance | None:
    """What is known of this turf and active at this site use; the more specific record wins."""
    records = turf.tolerance_to(active)
    at_site = [t for t in records if site_use in t.site_uses]
    general = [t for t in records if not t.site_uses]
    return next(iter(at_site + general), None)
