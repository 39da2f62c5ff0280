"""From a record to the log-odds of a dose here: which record speaks, and every shift by itself."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from app.engine.control import NO_ACTIVITY
from app.engine.record_shifts import Moment, adjuvant_rule
from app.engine.responses import Cell, ControlFacts, matching_response
from app.engine.situation import Situation
from app.engine.understood import understand
from knowledge.base import KnowledgeBase
from knowledge.models import Weed
from tests.conftest import plain
from tests.engine.made import dose, fact, with_active, with_form

Make = Callable[..., Situation]
REFERENCE = "1.0 lb ae/acre"
NOW = Moment("vegetative", "late-spring", 28.0)


def _weed(base: KnowledgeBase, *responses: dict[str, Any], **changes: Any) -> KnowledgeBase:
    """The base with a dandelion of which these responses alone are recorded."""
    usual = {"active": "2-4-d", "rate": REFERENCE, "days": 28, "band": [50, 70, 85]}
    told = base.weeds["dandelion"].model_dump(by_alias=True)
    told |= {"responses": [fact(**{**usual, **r}) for r in responses], "season_shifts": [], **changes}
    return replace(base, weeds={**base.weeds, "dandelion": Weed.model_validate(told)}, shifts={})


def _cell(
    base: KnowledgeBase,
    *,
    rate: str = REFERENCE,
    moment: Moment = NOW,
    adjuvant: str = "none",
    told: dict[str, Any] | None = None,
    applications: int = 1,
    **of: Any,
) -> Cell:
    target = {"weed": "dandelion", "stage": "vegetative"}
    asked = plain(**{"targets": [target], **(told or {})})
    understood = understand(Situation.model_validate(asked), base)
    facts = ControlFacts(base, understood)
    return facts.cell(dose(base, rate, **of), understood.targets[0], moment, adjuvant, applications)


def _logit(percent: float) -> float:
    return math.log(percent / (100 - percent))


@pytest.fixture
def made(base: KnowledgeBase) -> KnowledgeBase:
    """A bare active and a dandelion with one plain record."""
    return _weed(with_active(base, slope=fact(low=0.8, likely=1.3, high=2)), {})


def test_a_record_met_as_it_stands_is_given_back(made: KnowledgeBase) -> None:
    cell = _cell(made)
    assert cell.mean == pytest.approx(_logit(70))
    assert cell.sd == pytest.approx((_logit(85) - _logit(50)) / (2 * 1.2815515655446004))
    assert cell.shifts == cell.widened == ()


@pytest.mark.parametrize("share", [0.5, 0.75, 2.0])
def test_the_rate_moves_it_along_the_dose_response(made: KnowledgeBase, share: float) -> None:
    cell = _cell(made, rate=f"{share} lb ae/acre")
    assert cell.mean == pytest.approx(_logit(70) + 1.3 * math.log(share))
    assert [shift.code for shift in cell.shifts] == ["rate"]


def test_an_active_without_a_slope_takes_the_usual_one(base: KnowledgeBase) -> None:
    made = _weed(with_active(base), {})
    usual = made.parameter("slope-default")
    assert _cell(made, rate="2.0 lb ae/acre").mean == pytest.approx(_logit(70) + usual * math.log(2))


@pytest.mark.parametrize(("share", "widened"), [(0.5, ()), (0.499, ("rate",))])
def test_below_half_the_rate_the_band_widens(made: KnowledgeBase, share: float, widened: tuple[str, ...]) -> None:
    cell = _cell(made, rate=f"{share} lb ae/acre")
    factor = made.parameter("widening-extrapolated-rate") if widened else 1
    assert cell.widened == widened
    assert cell.sd == pytest.approx(factor * _cell(made).sd)


@pytest.mark.parametrize(("rate", "widened"), [("1.5 lb ae/acre", ()), ("1.51 lb ae/acre", ("rate",))])
def test_beyond_the_usual_range_the_band_widens(made: KnowledgeBase, rate: str, widened: tuple[str, ...]) -> None:
    usual = dose(made).usual
    assert usual is not None
    bounded = usual.model_copy(update={"high": dose(made, "1.5 lb ae/acre").rate})
    assert _cell(made, rate=rate, usual=bounded).widened == widened


@pytest.mark.parametrize(
    ("records", "stage", "season", "form", "found"),
    [
        ([{"stages": ["seedling"]}], "vegetative", "summer", "a", None),
        ([{"stages": ["seedling"]}], "seedling", "summer", "a", (0, False)),
        ([{}], "flowering", "summer", "a", (0, False)),
        ([{}], "not-emerged", "summer", "a", None),
        ([{"stages": ["not-emerged"]}], "not-emerged", "summer", "a", (0, False)),
        ([{}, {"seasons": ["summer"]}], "vegetative", "summer", "a", (1, False)),
        ([{}, {"seasons": ["summer"]}], "vegetative", "winter", "a", (0, False)),
        ([{"seasons": ["summer"]}], "vegetative", "winter", "a", (0, True)),
        (
            [{"seasons": ["summer"], "band": [50, 70, 85]}, {"seasons": ["late-autumn"], "band": [5, 20, 40]}],
            "vegetative",
            "winter",
            "a",
            (1, True),
        ),
        ([{}, {"form": "2-4-d-ehe"}], "vegetative", "summer", "2-4-d-ehe", (1, False)),
        ([{}, {"form": "2-4-d-ehe"}], "vegetative", "summer", "2-4-d-dma", (0, False)),
        ([{"form": "2-4-d-ehe"}], "vegetative", "summer", "2-4-d-dma", None),
        ([{"active": "mcpa"}], "vegetative", "summer", "a", None),
        ([{"applications": 2, "interval_days": 28}], "vegetative", "summer", "a", None),
    ],
)
def test_the_record_that_speaks(
    base: KnowledgeBase,
    records: list[dict[str, Any]],
    stage: str,
    season: Any,
    form: str,
    found: tuple[int, bool] | None,
) -> None:
    weed = _weed(base, *records).weeds["dandelion"]
    response, elsewhere = matching_response(weed, "2-4-d", form, stage, season)
    if found is None:
        assert (response, elsewhere) == (None, False)
    else:
        assert (response, elsewhere) == (weed.responses[found[0]], found[1])


def test_a_record_of_a_sequence_speaks_of_sequences_alone(base: KnowledgeBase) -> None:
    weed = _weed(base, {"applications": 2, "interval_days": 28}).weeds["dandelion"]
    assert matching_response(weed, "2-4-d", "x", "vegetative", "summer", 2)[0] is weed.responses[0]


def test_nothing_recorded_is_no_activity(made: KnowledgeBase) -> None:
    cell = _cell(made, key="dicamba", rate="0.5 lb ae/acre")
    assert (cell.mean, cell.sd, cell.response, cell.resisted) == (NO_ACTIVITY, 0.0, None, False)
    assert cell.sources == ()


@pytest.mark.parametrize(("resisted", "counts"), [("2-4-d", False), ("4", False), ("2", True), ("mcpa", True)])
def test_what_a_population_resists_counts_for_nothing(made: KnowledgeBase, resisted: str, counts: bool) -> None:
    target = {"weed": "dandelion", "stage": "vegetative", "resistant_to": [resisted]}
    cell = _cell(made, told={"targets": [target]})
    assert (cell.mean > NO_ACTIVITY) == counts
    assert cell.resisted == (not counts)


def test_another_season_widens_the_band(base: KnowledgeBase) -> None:
    made = _weed(with_active(base), {"seasons": ["early-autumn"]})
    cell = _cell(made)
    assert cell.widened == ("other-season",)
    assert cell.sd == pytest.approx(made.parameter("widening-other-season") * (_logit(85) - _logit(50)) / 2.563103131)


_RULES = [
    fact(id="nis", use="allowed", shift=0.4, sd=0.3),
    fact(id="mso", use="allowed", shift=0.9, sd=0.2),
    fact(id="mso", use="allowed", shift=1.5, sd=0.2, stages=["seedling"]),
    fact(id="coc", use="forbidden", shift=2.0, sd=0.1),
]


@pytest.mark.parametrize(
    ("recorded", "with_", "size"),
    [
        ("none", "none", 0.0),
        ("none", "nis", 0.4),
        ("nis", "none", -0.4),
        ("nis", "nis", 0.0),
        ("nis", "mso", 0.5),
        ("none", "coc", 0.0),
        ("none", "ams", 0.0),
    ],
)
def test_an_adjuvant_shifts_against_that_of_the_record(
    base: KnowledgeBase, recorded: str, with_: str, size: float
) -> None:
    made = _weed(with_active(base, adjuvants=_RULES), {"adjuvant": recorded})
    assert _cell(made, adjuvant=with_).mean == pytest.approx(_logit(70) + size)


def test_the_adjuvant_rule_of_the_stage_wins(base: KnowledgeBase) -> None:
    active = with_active(base, adjuvants=_RULES).actives["2-4-d"]
    young, old = (adjuvant_rule(active, "mso", stage, "broadleaf") for stage in ("seedling", "vegetative"))
    assert young is not None
    assert old is not None
    assert (young.shift, old.shift) == (1.5, 0.9)
    assert adjuvant_rule(active, "uan", "seedling", "broadleaf") is None


def _symptoms(base: KnowledgeBase, **changes: Any) -> KnowledgeBase:
    return _weed(with_active(base, symptoms=fact(first_days=[1, 3], full_days=[20, 28]), **changes), {})


def test_before_full_effect_control_still_builds(base: KnowledgeBase) -> None:
    made = _symptoms(base)
    early = made.parameter("early-slope")
    mean = [_cell(made, moment=replace(NOW, days=days)).mean for days in (6.0, 12.0, 24.0, 28.0)]
    assert mean == sorted(mean)
    assert mean[1] == pytest.approx(_logit(70) - early * math.log(24 / 12))
    assert mean[2] == pytest.approx(_logit(70)) == mean[3]


@pytest.mark.parametrize(("life_cycle", "kind"), [("perennial", "perennial"), ("summer-annual", "annual")])
@pytest.mark.parametrize(("movement", "way"), [("phloem", "systemic"), ("contact", "contact")])
def test_long_after_full_effect_weeds_come_back(
    base: KnowledgeBase, life_cycle: str, kind: str, movement: str, way: str
) -> None:
    made = _symptoms(base, movement=movement)
    weed = made.weeds["dandelion"].model_copy(update={"life_cycle": life_cycle})
    made = replace(made, weeds={**made.weeds, "dandelion": weed})
    slope = made.parameter(f"late-slope-{kind}-{way}")
    holds = made.parameter("full-effect-days")
    cell = _cell(made, moment=replace(NOW, days=2 * holds))
    assert cell.mean == pytest.approx(_logit(70) - slope * math.log(2))


def test_a_residue_decays_with_its_half_life(base: KnowledgeBase) -> None:
    half_life = fact(low=20, likely=40, high=60)
    changes = {"residual_half_life_days": half_life, "slope": fact(low=1, likely=1.5, high=2)}
    made = _weed(with_active(base, **changes), {"stages": ["not-emerged"], "days": 60})
    told = {"targets": [{"weed": "dandelion", "stage": "not-emerged"}]}
    span = made.parameter("emergence-span")
    for days in (20.0, 60.0, 100.0):
        decayed = span * (math.exp(-60 / span) - math.exp(-days / span))
        cell = _cell(made, moment=Moment("not-emerged", "late-spring", days), told=told)
        assert cell.mean == pytest.approx(_logit(70) - 1.5 * math.log(2) * decayed / 40)


def test_an_unsure_half_life_widens_what_is_judged_on_another_day(base: KnowledgeBase) -> None:
    told = {"targets": [{"weed": "dandelion", "stage": "not-emerged"}]}
    spreads = {}
    for low, high in ((39, 41), (20, 80)):
        half_life = fact(low=low, likely=40, high=high)
        made = _weed(with_active(base, residual_half_life_days=half_life), {"stages": ["not-emerged"], "days": 60})
        for days in (60.0, 100.0):
            spreads[high, days] = _cell(made, moment=Moment("not-emerged", "late-spring", days), told=told).sd
    assert spreads[80, 100.0] > spreads[41, 100.0] > spreads[41, 60.0]
    assert spreads[80, 60.0] == pytest.approx(spreads[41, 60.0])


@pytest.mark.parametrize(("warmest", "size"), [(49.9, -0.5), (50, 0), (90, 0), (90.1, -0.8), (None, 0)])
def test_cool_and_hot_air_shift_it(base: KnowledgeBase, warmest: float | None, size: float) -> None:
    shifts = [fact(below_f=50, shift=-0.5, sd=0.4), fact(above_f=90, shift=-0.8, sd=0.4)]
    made = _weed(with_active(base, temperature_shifts=shifts), {})
    cell = _cell(made, told={"forecast": {"max_temp_f": warmest}})
    assert cell.mean == pytest.approx(_logit(70) + size)
    assert (cell.sd > _cell(made, told={"forecast": {"max_temp_f": 70}}).sd) == (warmest not in {50, 90})


def test_weather_that_is_not_known_widens_the_band(made: KnowledgeBase) -> None:
    known, unknown = _cell(made), _cell(made, moment=replace(NOW, weather_known=False))
    assert unknown.mean == known.mean
    assert unknown.sd == pytest.approx(math.hypot(known.sd, made.parameter("unknown-weather-sd")))


def test_survivors_are_harder_to_kill(made: KnowledgeBase) -> None:
    cell = _cell(made, moment=replace(NOW, survivors=True))
    assert cell.mean == pytest.approx(_logit(70) + made.parameter("survivor-shift"))
    assert cell.mean < _logit(70)


@pytest.mark.parametrize(
    ("told", "worst"),
    [
        ({"turf_condition": {"stress": "drought"}}, "drought"),
        ({"forecast": {"max_temp_f": 70, "soil_moisture": "dry"}}, "drought"),
        ({"turf_condition": {"stress": "drought"}, "forecast": {"max_temp_f": 70, "soil_moisture": "dry"}}, "drought"),
    ],
)
def test_drought_counts_once_however_it_is_told(base: KnowledgeBase, told: dict[str, Any], worst: str) -> None:
    made = replace(_weed(with_active(base), {}), shifts=base.shifts)
    plain_cell = _cell(made)
    cell = _cell(made, told=told)
    assert cell.mean == pytest.approx(plain_cell.mean + base.shifts[worst].shift)


def test_a_shift_of_the_season_holds_unless_the_record_is_of_it(base: KnowledgeBase) -> None:
    shift = fact(seasons=["late-spring"], movement=["phloem"], shift=0.7, sd=0.2)
    every = _weed(with_active(base), {}, season_shifts=[shift])
    assert _cell(every).mean == pytest.approx(_logit(70) + 0.7)
    contact = _weed(with_active(base, movement="contact"), {}, season_shifts=[shift])
    assert _cell(contact).mean == pytest.approx(_logit(70))
    own = _weed(with_active(base), {"seasons": ["late-spring"]}, season_shifts=[shift])
    assert _cell(own).mean == pytest.approx(_logit(70))


def test_an_ester_in_cool_weather_has_its_shift(base: KnowledgeBase) -> None:
    cool = base.shifts["ester-cool"]
    season: Any = cool.seasons[0]
    bare = {"shifts": {"ester-cool": cool}}
    salt = replace(_weed(with_form(base, kind="amine-salt"), {}), **bare)
    ester = replace(_weed(with_form(base, kind="ester"), {}), **bare)
    moment = replace(NOW, season=season)
    assert _cell(ester, moment=moment).mean == pytest.approx(_cell(salt, moment=moment).mean + cool.shift)


def test_a_cell_cites_its_record_and_its_shifts(base: KnowledgeBase) -> None:
    other = {"basis": "memory", "sources": ["patton-nd-c@text"]}
    made = _weed(with_active(base, slope={"low": 1, "likely": 1, "high": 2, **other}), {})
    assert [c.id for c in _cell(made).sources] == ["common-practice"]
    assert [c.id for c in _cell(made, rate="0.8 lb ae/acre").sources] == ["common-practice", "patton-nd-c"]


def test_cells_are_remembered_by_what_they_are_of(made: KnowledgeBase) -> None:
    understood = understand(Situation.model_validate(plain(targets=[{"weed": "dandelion"}])), made)
    facts = ControlFacts(made, understood)
    one, other = dose(made), dose(made, "0.6 lb ae/acre")
    first = facts.cell(one, understood.targets[0], NOW, "none")
    assert facts.cell(one, understood.targets[0], NOW, "none") is first
    assert facts.cell(other, understood.targets[0], NOW, "none").mean != first.mean
    assert facts.cell(one, understood.targets[0], replace(NOW, days=90.0), "none").mean != first.mean
