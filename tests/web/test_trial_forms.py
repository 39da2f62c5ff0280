"""The forms about trials: what treatments are made of, ratings of lawns, several trials together, removal."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient

from app.services import trials
from app.store.opening import Store
from tests.web.test_shelf import chosen
from tests.web.test_trials import VIOLET, page, whole

SLUG = VIOLET.rpartition("/")[2]
LAWN = {
    "act": "save",
    "rows": "4",
    "weed": "wild violet",
    "stage": "flowering",
    "a0": "triclopyr|triclopyr-bee",
    "a0.rate": "1",
    "a0.rate.unit": "lb/acre",
    "adjuvant": "nis",
    "days_after": "28",
    "place": "Tarnbeck",
    "l0": "12 Mill Lane",
    "l0.control": "80",
    "l1": "",
    "l1.control": "70 %",
}


def fields_of(text: str) -> dict[str, str]:
    """What a browser would send of the form, were it stored at once."""
    form = text[text.index('id="typed"') :]
    form = form[: form.index("</form>")]
    found = {"act": "save"}
    for tag in re.findall(r"<input [^>]*>", form):
        told = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        found[told["name"]] = told.get("value", "")
    for attributes, inside in re.findall(r"<select([^>]*)>(.*?)</select>", form, re.DOTALL):
        name = re.search(r'name="([^"]+)"', attributes)
        assert name is not None
        found[name.group(1)] = chosen(inside)
    for name, inside in re.findall(r'<textarea[^>]* name="([^"]*)"[^>]*>(.*?)</textarea>', form, re.DOTALL):
        found[name] = inside
    return found


def test_keeping_what_the_form_shows_changes_nothing(filled: FlaskClient, store: Store) -> None:
    first = trials.one(store, SLUG)
    told = {**first.trial.model_dump(mode="json"), "season": "late-spring", "notes": "two\nlines", "design": "crd"}
    trials.change(store, SLUG, told, first.version)
    for item in trials.listing(store):
        before = trials.one(store, item.slug)
        answered = filled.post(f"/trials/{item.slug}/edit", data=fields_of(page(filled, f"/trials/{item.slug}/edit")))
        assert answered.status_code == 303, answered.get_data(as_text=True)
        after = trials.one(store, item.slug)
        assert after.version == before.version + 1
        # Where an active has one form alone, the form names it.
        assert [t.name for t in after.trial.treatments] == [t.name for t in before.trial.treatments]
        assert [(p.active, p.rate) for t in after.trial.treatments for p in t.actives] == [
            (p.active, p.rate) for t in before.trial.treatments for p in t.actives
        ]
        assert after.trial.model_dump(exclude={"treatments"}) == before.trial.model_dump(exclude={"treatments"})
        assert len(after.evidence) == len(before.evidence)


def test_what_a_treatment_is_made_of_is_changed(filled: FlaskClient, store: Store) -> None:
    typed = fields_of(page(filled, f"{VIOLET}/edit"))
    number = next(n for n, t in enumerate(trials.one(store, SLUG).trial.treatments) if t.name == "triclopyr")
    typed |= {f"t{number}.a0.rate": "2", f"t{number}.a0.rate.unit": "kg/ha", f"t{number}.adjuvant": "mso"}
    typed |= {"place": "Ouzelby", "applied": "2026-05-20", "notes": "rain after six hours"}
    answered = filled.post(f"{VIOLET}/edit", data=typed)
    assert (answered.status_code, answered.headers["Location"]) == (303, f"{VIOLET}?told=changed")
    found = trials.one(store, SLUG).trial
    (part,) = found.treatments[number].actives
    # Triclopyr is counted in acid equivalent.
    assert part.rate is not None
    assert (part.rate.value, part.rate.unit) == (2, "kg ae/ha")
    assert found.treatments[number].adjuvant == "mso"
    assert (found.place, found.notes) == ("Ouzelby", "rain after six hours")


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"t0.a0.rate": "-1"}, "t0.a0.rate", "out of range"),
        ({"t0.a0.rate": "much"}, "t0.a0.rate", "not a figure"),
        ({"t0.a1.rate": "1"}, "t0.a1", "is required beside a rate"),
        ({"t0.a1": "moonshine|"}, "t0.a1", "nearest"),
        ({"applied": "2026-02-30"}, "applied", "no day of the calendar"),
        ({"t0.s0": "multi-tiller"}, "t0.s0", "no known stage of wild-violet"),
        ({"turf": "astroturf"}, "turf", "nearest"),
        ({"notes": "x" * 2001}, "notes", "2000"),
    ],
)
def test_what_cannot_be_kept_is_said_at_its_field(
    filled: FlaskClient, store: Store, changes: dict[str, str], field: str, words: str
) -> None:
    typed = {**fields_of(page(filled, f"{VIOLET}/edit")), **changes}
    refused = filled.post(f"{VIOLET}/edit", data=typed)
    text = whole(refused.get_data(as_text=True))
    assert refused.status_code == 422
    fault = re.search(rf'id="{re.escape(field)}-fault">([^<]+)<', text)
    assert fault is not None
    assert words in fault.group(1)
    assert f'href="#{field}"' in text
    assert trials.one(store, SLUG).version == 1


def test_the_second_of_two_who_change_a_trial_is_shown_both(filled: FlaskClient, store: Store) -> None:
    typed = fields_of(page(filled, f"{VIOLET}/edit"))
    assert filled.post(f"{VIOLET}/edit", data={**typed, "notes": "theirs", "place": "Ouzelby"}).status_code == 303
    late = filled.post(f"{VIOLET}/edit", data={**typed, "notes": "mine"})
    text = whole(late.get_data(as_text=True))
    assert late.status_code == 409
    for words in ("Somebody else was quicker", "theirs", "mine", "Ouzelby", "Keep mine"):
        assert words in text
    assert trials.one(store, SLUG).trial.notes == "theirs"
    # Sent once more with the version that the page names, mine is kept.
    assert filled.post(f"{VIOLET}/edit", data=fields_of(text)).status_code == 303
    assert trials.one(store, SLUG).trial.notes == "mine"


def test_a_trial_is_removed_unless_it_was_changed_meanwhile(filled: FlaskClient, store: Store) -> None:
    assert "Remove" in page(filled, f"{VIOLET}/remove")
    count = len(trials.listing(store))
    refused = filled.post(f"{VIOLET}/remove", data={"version": "7"})
    assert refused.status_code == 409
    assert "Somebody else changed it" in refused.get_data(as_text=True)
    assert len(trials.listing(store)) == count
    assert filled.post(f"{VIOLET}/remove", data={"version": "1"}).status_code == 303
    assert len(trials.listing(store)) == count - 1


def test_treated_lawns_are_rated_together_and_said_to_be_weaker(client: FlaskClient, store: Store) -> None:
    assert "Weaker evidence" in page(client, "/trials/rate")
    answered = client.post("/trials/rate", data=LAWN)
    assert answered.status_code == 303
    (item,) = trials.listing(store)
    kept = trials.one(store, item.slug).trial
    assert kept.kind == "lawns"
    assert [(plot.rep, plot.control_pct) for plot in kept.plots] == [("12 Mill Lane", 80), ("lawn 2", 70)]
    (treatment,) = kept.treatments
    assert treatment.stages == {"wild-violet": "flowering"}
    text = page(client, answered.headers["Location"])
    assert "without a check" in text
    assert "wild violet" in text


def test_one_bad_lawn_keeps_none(client: FlaskClient, store: Store) -> None:
    assert client.post("/trials/rate", data=LAWN).status_code == 303
    # The first lawn is rated at that date already, the other one is new.
    again = client.post("/trials/rate", data={**LAWN, "l1": "14 Mill Lane"})
    assert again.status_code == 422
    assert "12 Mill Lane has a rating" in again.get_data(as_text=True)
    assert len(trials.one(store, trials.listing(store)[0].slug).trial.plots) == 2


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"weed": ""}, "weed", "is required"),
        ({"weed": "zzzzqq"}, "weed", "nearest"),
        ({"a0": "", "a0.rate": ""}, "a0", "say what was sprayed"),
        ({"a0": ""}, "a0", "beside a rate"),
        ({"days_after": ""}, "days_after", "is required"),
        ({"days_after": "28.5"}, "days_after", "no whole number"),
        ({"days_after": "999"}, "days_after", "730"),
        ({"l0.control": "120"}, "l0.control", "between 0 and 100"),
        ({"l0.control": ""}, "l0.control", "is required"),
        ({"l0": "", "l0.control": "", "l1.control": ""}, "l0.control", "one lawn at least"),
        ({"stage": "multi-tiller"}, "stage", "no known stage"),
        ({"l0": "x" * 41}, "l0", "40"),
    ],
)
def test_a_rating_that_cannot_be_kept_is_said_at_its_field(
    client: FlaskClient, store: Store, changes: dict[str, str], field: str, words: str
) -> None:
    refused = client.post("/trials/rate", data={**LAWN, **changes})
    text = whole(refused.get_data(as_text=True))
    assert refused.status_code == 422
    fault = re.search(rf'id="{re.escape(field)}-fault">([^<]+)<', text)
    assert fault is not None, re.findall(r"-fault\">[^<]+", text)
    assert words in fault.group(1)
    assert 'value="Tarnbeck"' in text
    assert trials.listing(store) == ()


def test_more_lawns_are_added_to_the_form(client: FlaskClient, store: Store) -> None:
    text = whole(client.post("/trials/rate", data={**LAWN, "act": "add"}).get_data(as_text=True))
    assert 'name="l7"' in text
    assert 'name="l8"' not in text
    assert 'value="12 Mill Lane"' in text
    assert trials.listing(store) == ()


def test_trials_are_weighed_together(filled: FlaskClient, store: Store) -> None:
    text = page(filled, "/trials/synthesis?weed=wild-violet&treatment=triclopyr&against=&alpha=0.05")
    found = trials.synthesis(store, "wild-violet", "triclopyr")
    assert found.text in text
    assert f"<b>{found.estimate:.1f}</b>" in text
    for effect in found.effects:
        assert effect.trial in text
    for words in ("degrees of freedom", "Control, %", "scatter of their plots"):
        assert words in text
    picture = re.search(r'src="([^"]+forest\.svg[^"]*)"', text)
    assert picture is not None
    assert filled.get(picture.group(1)).data.startswith(b"<?xml")


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("weed=wild-violet&treatment=mystery", "treatment"),
        ("weed=moonflower&treatment=triclopyr", "weed"),
        ("weed=wild-violet&treatment=triclopyr&days_after=soon", "days_after"),
        ("weed=wild-violet&treatment=triclopyr&against=triclopyr", "against"),
    ],
)
def test_a_question_to_several_trials_that_cannot_be_answered_is_said_at_its_field(
    filled: FlaskClient, query: str, field: str
) -> None:
    text = page(filled, f"/trials/synthesis?{query}", 422)
    assert f'id="{field}-fault"' in text
