"""The demo trials: made by their simulator, whole, within what is known of their actives, and near their truth."""

from __future__ import annotations

import csv
import io
import itertools
import re
import tomllib
from collections import defaultdict
from functools import cache
from pathlib import Path
from statistics import fmean
from typing import Any

import pytest

from app.engine.expect import ExpectRequest, expect
from demo_data.trial_simulator import CHECK, FOLDER, HEADER, TRIALS, Treated, Trial, as_rated, files, main
from knowledge.base import KnowledgeBase
from knowledge.models.common import STAGES_BY_LIFE_FORM
from knowledge.quantities import parse_quantity
from tests.demo_data.demo_shelf import PLACES, demo_shelf

ROOT = Path(__file__).resolve().parents[2]
Row = dict[str, str]
LOST = ("yellow-nutsedge.csv", "halosulfuron-methyl + NIS", "3", "42")
SURPRISE = "quinclorac, 1-3 tillers, MSO"
# How far the mean over blocks may lie from the truth [percentage points]: about three standard errors of the draw.
NEAR = 12
by_trial = pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.file)


@cache
def rows(file: str) -> tuple[Row, ...]:
    """Rows of a committed file."""
    return tuple(csv.DictReader(io.StringIO((FOLDER / file).read_text(encoding="utf-8"))))


def mean(file: str, treatment: str, weed: str, days: int, column: str) -> float:
    """Mean over blocks of what was rated."""
    rated = [
        float(row[column])
        for row in rows(file)
        if (row["treatment"], row["weed"], row["days_after"]) == (treatment, weed, str(days)) and row[column]
    ]
    return fmean(rated)


def observed(trial: Trial, treatment: str, weed: str, days: int) -> float:
    """Mean control [%]; of cover, its fall beyond that of the check (Henderson and Tilton, from memory)."""
    if trial.cover is None:
        return mean(trial.file, treatment, weed, days, "control_pct")
    left = {
        name: mean(trial.file, name, weed, days, "cover_pct") / mean(trial.file, name, weed, days, "cover_before_pct")
        for name in (treatment, CHECK)
    }
    return 100 * (1 - left[treatment] / left[CHECK])


def test_the_files_are_what_the_simulator_makes() -> None:
    assert {path.name: path.read_bytes() for path in FOLDER.iterdir()} == files()
    assert len(files()) == 6


def test_the_simulator_writes_its_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("demo_data.trial_simulator.FOLDER", tmp_path / "trials")
    main()
    assert {path.name: path.read_bytes() for path in (tmp_path / "trials").iterdir()} == files()


def test_the_files_are_shipped() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert "trials/*" in told["tool"]["setuptools"]["package-data"]["demo_data"]


@by_trial
def test_every_id_exists(base: KnowledgeBase, trial: Trial) -> None:
    content = (FOLDER / trial.file).read_text(encoding="utf-8")
    assert content.splitlines()[0] == HEADER
    assert re.fullmatch(r"Larkmere [a-z ]+ 2026", trial.name)
    for row in rows(trial.file):
        weed = base.weeds[row["weed"]]
        varies = trial.stages[weed.id] == ""
        assert row["stage"] in STAGES_BY_LIFE_FORM[weed.life_form] or (varies and row["treatment"] == CHECK)
        assert row["turf"] in base.turf
        assert row["adjuvant"] in base.adjuvants
        assert row["place"] in PLACES
        assert row["trial"] == trial.name
        actives = row["actives"].split(" + ") if row["actives"] else []
        rates = [parse_quantity(text) for text in row["rate"].split(" + ")] if row["rate"] else []
        assert len(actives) == len(rates)
        assert (not actives) == (row["treatment"] == CHECK)
        for active, rate in zip(actives, rates, strict=True):
            assert rate.unit == f"lb {base.actives[active].rate_basis}/acre"


@by_trial
def test_a_trial_is_whole_but_for_one_plot(trial: Trial) -> None:
    names = {treated.name for treated in trial.treatments} | {CHECK}
    plots = defaultdict(set)
    for row in rows(trial.file):
        rating = (row["weed"], int(row["days_after"]))
        assert (row["treatment"], row["rep"]) not in plots[rating], "a plot stands twice"
        plots[rating].add((row["treatment"], row["rep"]))
        missing = (trial.file, row["treatment"], row["rep"], row["days_after"]) == LOST
        by_cover = trial.cover is not None
        assert (row["control_pct"] == "") == (missing or by_cover)
        assert (row["cover_pct"] == "") == (row["cover_before_pct"] == "") == (not by_cover)
        assert (row["injury_pct"] == "") == missing
    assert set(plots) == set(itertools.product(trial.stages, trial.dates))
    for there in plots.values():
        assert len(there) == len(names) * trial.replicates
        for name in names:
            assert sum(treatment == name for treatment, _ in there) == trial.replicates
        labels = {rep for _, rep in there}
        running = len(there) if trial.randomised else trial.replicates
        assert labels == {str(number) for number in range(1, running + 1)}
    assert len({frozenset(there) for there in plots.values()}) == 1, "a plot keeps its treatment"


def test_the_layouts_are_those_that_a_reader_must_meet() -> None:
    laid = {trial.file: (trial.replicates, trial.randomised, trial.dates) for trial in TRIALS}
    assert laid == {
        "crabgrass-stage.csv": (4, False, (14, 28, 42)),
        "yellow-nutsedge.csv": (4, False, (14, 28, 42)),
        "dandelion-clover.csv": (4, False, (28, 42)),
        "ground-ivy.csv": (4, False, (28, 56)),
        "wild-violet.csv": (3, False, (7, 14, 21, 28)),
        "rate-series.csv": (4, True, (28, 56)),
    }


@by_trial
def test_figures_are_what_a_rater_writes(trial: Trial) -> None:
    for row in rows(trial.file):
        for column in ("control_pct", "injury_pct", "cover_pct", "cover_before_pct"):
            if row[column]:
                figure = int(row[column])
                assert 0 <= figure <= 100
                assert figure == as_rated(figure)
        if row["treatment"] == CHECK:
            assert row["control_pct"] in ("0", "")
            assert row["injury_pct"] == "0"
            assert trial.cover is None or int(row["cover_pct"]) > 0


def test_the_singles_of_each_mixture_stand_at_its_rates() -> None:
    made = {
        tuple(zip(row["actives"].split(" + "), row["rate"].split(" + "), strict=True)): row["adjuvant"]
        for row in rows("dandelion-clover.csv")
    }
    mixtures = [parts for parts in made if len(parts) > 1]
    assert sorted(len(parts) for parts in mixtures) == [2, 2, 3]
    for parts in mixtures:
        assert all(made[(part,)] == made[parts] for part in parts)


@by_trial
def test_means_over_blocks_lie_near_the_truth(trial: Trial) -> None:
    for treated in trial.treatments:
        for weed, truth in treated.truth.items():
            for days, true in zip(trial.dates, truth, strict=True):
                assert observed(trial, treated.name, weed, days) == pytest.approx(true, abs=NEAR), (treated.name, days)


def expected(base: KnowledgeBase, trial: Trial, treated: Treated, weed: str, days: int) -> tuple[float, float]:
    """Low and high end of what the knowledge base expects of a treatment [%]."""
    spray = base.adjuvants[treated.adjuvant]
    rates = [(active, parse_quantity(rate)) for active, rate in treated.parts]
    application: dict[str, Any] = {
        "day": 0,
        "actives": [{"active": active, "rate": {"value": rate.value, "unit": rate.unit}} for active, rate in rates],
    }
    if spray.rate is not None:
        application["adjuvant"] = {"id": spray.id, "rate": {"value": spray.rate.value, "unit": spray.rate.unit}}
    request = {
        "situation": {
            "date": trial.applied,
            "zone": "cool-humid",
            "site_use": "commercial-grounds",
            "turf": [trial.turf],
            "targets": [{"weed": weed, "stage": treated.stage or trial.stages[weed]}],
        },
        "program": {"applications": [application]},
        "days_after": days,
    }
    control = expect(base, ExpectRequest.model_validate(request)).control[0]
    assert control.low is not None
    assert control.high is not None
    return control.low, control.high


@by_trial
def test_what_is_true_lies_within_what_is_known_but_for_one_treatment(base: KnowledgeBase, trial: Trial) -> None:
    for treated in trial.treatments:
        if treated.name != SURPRISE:
            for weed, truth in treated.truth.items():
                for days, true in zip(trial.dates, truth, strict=True):
                    low, high = expected(base, trial, treated, weed, days)
                    assert low <= true <= high, f"{treated.name} on {weed} at {days} days: {low} to {high}"


@pytest.mark.parametrize("days", [28, 42])
def test_oil_on_tillered_crabgrass_does_better_than_the_record_expects(base: KnowledgeBase, days: int) -> None:
    trial = TRIALS[0]
    treated = next(item for item in trial.treatments if item.name == SURPRISE)
    _, high = expected(base, trial, treated, "smooth-crabgrass", days)
    assert observed(trial, SURPRISE, "smooth-crabgrass", days) > high


def test_no_product_is_named(base: KnowledgeBase) -> None:
    plain = {"leaves", "tillers", "multi-tiller", "1-3", "lb", "ae/acre", "MSO", "NIS", "COC", CHECK}
    plain |= {
        base.actives[active].name for trial in TRIALS for treated in trial.treatments for active, _ in treated.parts
    }
    for trial in TRIALS:
        for treated in trial.treatments:
            words = re.split(r" \+ |, | ", treated.name)
            assert {word for word in words if not re.fullmatch(r"[0-9.]+", word)} <= plain, treated.name
        text = (FOLDER / trial.file).read_text(encoding="utf-8").casefold()
        assert not [product.name for product in demo_shelf() if product.name.casefold() in text]
