"""What a planned branch adds up to, against sums made property by property; and that its size costs no memory."""

from __future__ import annotations

import csv
import io
import tracemalloc
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from app.engine.output import AdjuvantInTank, Amount
from app.engine.product import Product
from app.services import branch, shelf, year_job, year_job_sums
from app.services.knowledge_service import knowledge_base
from app.services.year_job_csv import load_csv, order_csv
from app.services.year_job_figures import FoldFigures
from app.services.year_job_fold import fold_all
from app.services.year_job_lease import Holding
from app.services.year_job_plan import document_of
from app.services.year_job_run import Ways, run
from app.services.year_job_worker import Planned
from app.store import properties as places
from app.store import year_jobs as kept
from app.store.keyed import Document
from app.store.opening import Store, open_store
from knowledge.quantities import Quantity
from tests.benchmarks.years import fill
from tests.season.branch_years import application, control, plan, used, visit
from tests.season.planned import CREEPER, OIL
from tests.services import year_jobs_made as made
from tests.services.year_jobs_made import KEY, WISH

SPRING, AUTUMN = date(2027, 4, 12), date(2027, 9, 20)
# What the demo's tank holds of its one product [fl oz/1000 ft2], in autumn of the year.
RATE = 0.8


def from_shelf(_: list[dict[str, Any]] | None) -> Planned:
    """Plans of a product in autumn and of a generic active in spring, on each area."""

    def planned(told: Document) -> Document:
        areas = [area["id"] for area in told["areas"]]
        visits = [visit(1, key, application(SPRING, used("dicamba", 0.5)), SPRING) for key in areas]
        visits += [visit(2, key, application(AUTUMN, CREEPER, adjuvant=OIL), AUTUMN) for key in areas]
        likely = 50.0 + 10 * made.TURF.index(told["areas"][0]["turf"][0])
        gap = 0.0 if likely > 50 else 0.02
        told_of: dict[str, Any] = {"objective": likely, "gap": gap, "proven": gap == 0, "control": (control(likely),)}
        return document_of(plan(visits=tuple(visits), **told_of))

    return planned


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path)
    shelf.fill_demo(opened)
    fill(opened, 60)
    year_job.start(opened, KEY, {**WISH, "catalog": "shelf"})
    run(Holding(opened, KEY), Ways(1, maker=from_shelf, asks=made.asks))
    yield opened
    opened.close()


def _lawns(store: Store) -> list[tuple[str, list[float], str]]:
    """Turf, sizes [ft2] and technician of every property that has its turf told."""
    with store.reading() as session:
        found = [item.document for item in places.PROPERTIES.every(session)]
    told = [
        (item["areas"][0]["turf"][0], [area["area"]["value"] for area in item["areas"]], item["technician"])
        for item in found
        if item["areas"][0]["turf"]
    ]
    assert len(told) >= 50
    return told


def test_the_order_is_rate_times_area_of_every_property_less_the_stock(store: Store) -> None:
    found = year_job_sums.order(store, KEY)
    treated = sum(sum(sizes) for _, sizes, _ in _lawns(store))
    creeper = next(item for item in found.products if item.product == CREEPER.product)
    litres = Quantity(RATE * treated / 1000, "fl oz").to("L").value
    assert creeper.needed.unit == "L"
    assert creeper.needed.value == pytest.approx(litres)
    (month,) = creeper.months
    held: Product = next(p for p in shelf.shelf_products(store) if p.name == CREEPER.product)
    assert held.stock is not None
    stock = min(held.stock.quantity.to("L").value, litres)
    assert month.month == 9
    assert month.from_stock.value == pytest.approx(stock)
    bought = sum(item.count * Quantity(item.size.value, item.size.unit).to("L").value for item in month.buy)
    assert bought >= litres - stock - 1e-6
    assert found.months[9] == pytest.approx(sum(item.months[0].price or 0 for item in found.products))


def test_the_order_holds_the_oil_by_its_share_of_the_spray(store: Store) -> None:
    found = year_job_sums.order(store, KEY)
    treated = sum(sum(sizes) for _, sizes, _ in _lawns(store))
    oil = next(item for item in found.products if item.product == OIL.product)
    label = next(p for p in shelf.shelf_products(store) if p.name == OIL.product)
    assert label.adjuvant_rate is not None
    # One gallon of spray on 1000 ft2, of which the label's share is oil.
    spray = Quantity(treated / 1000, "gal").to("L").value
    assert oil.needed.value == pytest.approx(spray * label.adjuvant_rate.value / 100)


def test_actives_without_a_product_are_told_by_weight(store: Store) -> None:
    (need,) = year_job_sums.order(store, KEY).actives
    treated = sum(sum(sizes) for _, sizes, _ in _lawns(store))
    # Half a pound on an acre (computed by hand from the definitions of both).
    grams = 0.5 * 453.59237 * treated / 43560
    assert (need.active, need.month, need.amount.unit) == ("dicamba", 4, "g ae")
    assert need.amount.value == pytest.approx(grams)


def test_the_load_counts_a_property_once_a_day_by_week_and_technician(store: Store) -> None:
    pricing = {"labour_per_hour": 40, "minutes_per_visit": 12, "minutes_per_1000_ft2": 1.5, "margin_pct": 30}
    told, version = branch.branch(store)
    branch.change_branch(store, {**told.model_dump(mode="json"), "pricing": pricing}, version)
    found = year_job_sums.load(store, KEY)
    lawns = _lawns(store)
    monday = AUTUMN - timedelta(days=AUTUMN.weekday())
    autumn = next(week for week in found.weeks if week.week == monday)
    assert autumn.visits == len(lawns)
    assert autumn.treated_ft2 == pytest.approx(sum(sum(sizes) for _, sizes, _ in lawns))
    minutes = sum(12 + 1.5 * sum(sizes) / 1000 for _, sizes, _ in lawns)
    assert autumn.minutes == pytest.approx(minutes, abs=0.1)
    for row in found.technicians:
        if row.week == monday:
            assert row.visits == sum(who == row.technician for _, _, who in lawns)
    # The plans tell windows of a week from their day on.
    assert sum(week.spread_visits for week in found.weeks) == 2 * len(lawns)
    assert autumn.spread_visits < len(lawns)
    people = {who for _, _, who in lawns}
    # Seven to six is eleven hours, on five days (computed by hand).
    assert autumn.hours_of_work == len(people) * 55
    assert autumn.busy == pytest.approx(minutes / 60 / (len(people) * 55), abs=1e-3)


def test_the_summary_weighs_every_property_alike_and_tells_the_worst(store: Store) -> None:
    found = year_job_sums.summary(store, KEY)
    lawns = _lawns(store)
    points = [50.0 + 10 * made.TURF.index(turf) for turf, _, _ in lawns]
    assert (found.planned, found.unplanned) == (len(lawns), 60 - len(lawns))
    assert found.objective == pytest.approx(sum(points) / len(points), abs=0.01)
    assert found.worst_gap == 0.02
    assert 0 < found.proven < found.folds
    (weed,) = found.weeds
    assert (weed.properties, weed.worst) == (len(lawns), min(points))
    assert weed.likely == pytest.approx(sum(points) / len(points), abs=0.06)


def test_a_size_that_is_not_told_is_said_and_not_guessed(tmp_path: Path, store: Store) -> None:
    with store.session() as session:
        first = next(item for item in places.PROPERTIES.every(session) if item.document["areas"][0]["turf"])
        areas = [{**area, "area": None} for area in first.document["areas"]]
        document = {**first.document, "areas": areas}
        columns: dict[str, Any] = {}
        places.PROPERTIES.update(session, first.slug, first.name, document, first.version, made.NOW, columns)
    year_job.start(store, "second-job", {**WISH, "catalog": "shelf"})
    run(Holding(store, "second-job"), Ways(1, maker=from_shelf, asks=made.asks))
    before, after = (year_job_sums.order(store, key) for key in (KEY, "second-job"))
    name = CREEPER.product
    needed = [next(item for item in told.products if item.product == name).needed.value for told in (before, after)]
    lost = sum(area["area"]["value"] for area in first.document["areas"])
    assert needed[0] - needed[1] == pytest.approx(Quantity(RATE * lost / 1000, "fl oz").to("L").value)
    assert any("whose size is not told" in note for note in after.notes)
    load = year_job_sums.load(store, "second-job")
    assert sum(week.unmeasured for week in load.weeks) == 2


def test_tables_for_spreadsheets_hold_what_the_answers_hold(store: Store) -> None:
    order, load = year_job_sums.order(store, KEY), year_job_sums.load(store, KEY)
    rows = list(csv.DictReader(io.StringIO(order_csv(order))))
    paid = sum(float(row["price"]) for row in rows if row["price"])
    assert paid == pytest.approx(sum(item.price or 0 for item in order.products))
    assert {row["product"] for row in rows} >= {item.product for item in order.products}
    weeks = list(csv.DictReader(io.StringIO(load_csv(load))))
    assert sum(int(row["visits"]) for row in weeks if row["technician"] == "all") == sum(w.visits for w in load.weeks)
    assert len(weeks) == len(load.weeks) + len(load.technicians)


def _peak(folder: Path, count: int) -> int:
    store = open_store(folder)
    fill(store, count)
    year_job.start(store, KEY, WISH)
    held = Holding(store, KEY)
    told = held.take()
    tracemalloc.start()
    try:
        assert fold_all(held, told, made.asks)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    with store.reading() as session:
        assert kept.places_told(session, KEY)[0] == count
    store.close()
    return peak


def test_ten_times_the_properties_take_no_more_memory_to_fold(tmp_path: Path) -> None:
    # Once before, so that what is kept for the life of a process is there.
    _peak(tmp_path / "warm", 120)
    few, many = _peak(tmp_path / "few", 200), _peak(tmp_path / "many", 2000)
    assert many < 1.5 * few


def test_an_adjuvant_of_no_product_is_said_to_be_missing() -> None:
    bare = AdjuvantInTank(id="nis", name="nonionic surfactant", rate=Amount(value=0.25, unit="% v/v"))
    needs = year_job_sums._Needs(knowledge_base(), {})
    work = document_of(plan(visits=(visit(1, "area-01", application(SPRING, used(), adjuvant=bare), SPRING),)))
    figures = FoldFigures.model_validate(work["figures"])
    needs.add(figures.work[0], 1000.0, "somewhere")
    name = needs.base.adjuvants["nis"].name
    assert any(name in note for note in needs.told().notes)
