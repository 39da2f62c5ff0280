"""Fields: where a fault belongs, and in which words it is said."""

from __future__ import annotations

import pytest

from app.engine.errors import FieldFault
from app.web.fields import FIELD_LABELS, Rows

# Rows 1 and 3 hold weeds, row 2 a past application, row 2 a barred active.
ROWS = Rows(targets=(1, 3), past=(2,), bans=(2,))


@pytest.mark.parametrize(
    ("path", "field"),
    [
        ("forecast.max_temp_f", "max_temp"),
        ("situation.forecast.max_temp_f", "max_temp"),
        ("forecast", "min_temp"),
        ("priorities", "priority_control"),
        ("targets.0.resistant_to.0", "resistant"),
        ("targets.0.cover_pct", "cover"),
        ("targets.1.weed", "weed_3"),
        ("targets.1.stage", "stage_3"),
        ("targets.1.tillers", "weed_3"),
        ("applied_this_year.0.rate.value", "past_rate_2"),
        ("local_rules.0.active", "ban_2"),
        ("turf.1", "turf_2"),
        ("turf.0", "turf"),
        ("area.unit", "area"),
        ("actives.0", "active"),
        ("form.month", "month"),
        ("", "weed"),
    ],
)
def test_faults_find_their_field(path: str, field: str) -> None:
    assert ROWS.field_of(path) == field
    assert field in FIELD_LABELS


def test_a_fault_speaks_of_the_form_in_its_units() -> None:
    range_fault = FieldFault("forecast.max_temp_f", "200 is out of range; it must be less than or equal to 140")
    assert "140 °F" in ROWS.by_field((range_fault,), "us")["max_temp"]
    assert "60 °C" in ROWS.by_field((range_fault,), "metric")["max_temp"]


def test_the_first_fault_of_a_field_is_the_one_said() -> None:
    faults = (FieldFault("form.weed", "first"), FieldFault("targets.0.weed", "second"))
    assert ROWS.by_field(faults, "us") == {"weed": "first"}
