"""The pages of trials: read before anything is kept, the answer first, and nobody overwritten unseen."""

from __future__ import annotations

import io
import re
from html import unescape

import pytest
from flask.testing import FlaskClient

from app.services import trials
from app.store.opening import Store
from tests.services.trial_files import sheet, trial_sheet
from tests.web.test_shelf import chosen

# A trial by the names that the demo gives it.
VIOLET = "/trials/larkmere-wild-violet-2026"


def page(client: FlaskClient, path: str, status: int = 200) -> str:
    found = client.get(path)
    assert found.status_code == status, path
    return whole(found.get_data(as_text=True))


def whole(text: str) -> str:
    assert text.count("<h1") == 1
    assert "style=" not in text
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    return unescape(text).replace("\u00a0", " ")


def sent_file(client: FlaskClient, text: str, **more: str) -> tuple[int, str]:
    data = {"file": (io.BytesIO(text.encode()), "plots.csv"), **more}
    found = client.post("/trials/import", data=data, content_type="multipart/form-data")
    return found.status_code, whole(found.get_data(as_text=True))


def key_in(text: str) -> str:
    found = re.search(r'name="key" value="([^"]+)"', text)
    assert found is not None
    return found.group(1)


def test_without_a_trial_the_list_says_what_to_do_first(client: FlaskClient) -> None:
    text = page(client, "/trials")
    assert "No trial is kept yet" in text
    for path in ("/trials/import", "/trials/rate"):
        assert f'href="{path}"' in text
    assert "nothing to weigh yet" in page(client, "/trials/synthesis")


def test_the_place_stands_between_mix_card_and_identify(client: FlaskClient) -> None:
    names = re.findall(r'<li><a href="[^"]+"(?: aria-current="page")?>([^<]+)</a></li>', page(client, "/trials"))
    assert names.index("Trials") - names.index("Mix card") == 1
    assert names.index("Trials") < names.index("Properties") < names.index("Round") < names.index("Record")
    assert names.index("Record") < names.index("Identify")


def test_the_list_names_every_trial_with_what_it_is(filled: FlaskClient, store: Store) -> None:
    text = page(filled, "/trials")
    for item in trials.listing(store):
        assert f'href="/trials/{item.slug}"' in text
        assert item.place in text
        assert ", ".join(item.weeds) in text
    assert "plots with a check" in text
    assert "quinclorac on smooth crabgrass" in text


def test_a_file_is_previewed_and_kept_once_confirmed(client: FlaskClient, store: Store) -> None:
    status, text = sent_file(client, trial_sheet("Mill Field"))
    assert status == 200
    assert "1 trial read. Nothing is kept yet" in text
    assert "guessed from its name" in text
    assert "Moves nothing" in text
    assert trials.listing(store) == ()
    done = client.post("/trials/import/confirm", data={"key": key_in(text)})
    assert (done.status_code, done.headers["Location"]) == (303, "/trials/mill-field?told=kept")
    assert [item.name for item in trials.listing(store)] == ["Mill Field"]
    # What was confirmed cannot be confirmed again.
    again = client.post("/trials/import/confirm", data={"key": key_in(text)})
    assert again.status_code == 422


def test_bad_rows_are_named_with_line_and_column_and_hold_back_the_file(client: FlaskClient, store: Store) -> None:
    rows = [{"rep": str(n), "treatment": name} for name in ("nontreated", "2,4-D") for n in (1, 2)]
    status, text = sent_file(client, sheet(*rows, {"rep": "3", "control_pct": "140"}))
    assert status == 200
    assert re.search(r'data-label="Line">6</td><th scope="row">control_pct', text)
    assert "between 0 and 100" in text
    assert "Keep 1 trial" not in text
    refused = client.post("/trials/import/confirm", data={"key": key_in(text)})
    assert refused.status_code == 422
    assert "No trial was kept" in refused.get_data(as_text=True)
    assert trials.listing(store) == ()


def test_headings_that_do_not_fit_are_asked_after(client: FlaskClient, store: Store) -> None:
    text = trial_sheet("Mill Field").replace("control_pct", "Gone by eye", 1)
    status, asked = sent_file(client, text)
    assert status == 422
    assert "No column is found for control_pct" in asked
    # What was recognised is filled in.
    select = re.search(r'<select id="columns.treatment".*?</select>', asked, re.DOTALL)
    assert select is not None
    assert chosen(select.group()) == "treatment"
    told = {"key": key_in(asked), "columns.control_pct": "Gone by eye"}
    known = {f"columns.{name}": name for name in ("trial", "weed", "days_after", "treatment", "rep")}
    twice = client.post("/trials/import/columns", data={**told, **known, "columns.rep": "treatment"})
    assert twice.status_code == 422
    assert "give it once" in twice.get_data(as_text=True)
    shown = client.post("/trials/import/columns", data={**told, **known, "design": "crd"})
    assert shown.status_code == 200
    shown_text = whole(shown.get_data(as_text=True))
    assert "Completely randomised" in shown_text
    assert client.post("/trials/import/confirm", data={"key": key_in(shown_text)}).status_code == 303
    assert trials.one(store, "mill-field").trial.design == "crd"


def test_ratings_under_a_heading_of_their_own_beside_an_empty_cover_column_are_asked_after(
    client: FlaskClient, store: Store
) -> None:
    text = trial_sheet("Mill Field", cover_pct="").replace("control_pct", "Gone by eye", 1)
    status, asked = sent_file(client, text)
    assert status == 422
    assert "Which column is which?" in asked
    assert "'cover_pct' is empty; say which of the columns that are not read (Gone by eye)" in asked
    assert 'id="columns.control_pct-fault"' in asked
    known = {f"columns.{name}": name for name in ("trial", "weed", "days_after", "treatment", "rep", "cover_pct")}
    still = client.post("/trials/import/columns", data={"key": key_in(asked), **known})
    assert still.status_code == 422
    assert "Which column is which?" in still.get_data(as_text=True)
    told = {"key": key_in(asked), **known, "columns.control_pct": "Gone by eye"}
    shown = client.post("/trials/import/columns", data=told)
    assert "Keep 1 trial" in whole(shown.get_data(as_text=True))
    assert trials.listing(store) == ()


def test_columns_are_asked_after_where_that_is_wanted(client: FlaskClient) -> None:
    status, asked = sent_file(client, trial_sheet(), ask_columns="yes")
    assert status == 200
    assert "Which column is which?" in asked


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("trial,weed,days_after,treatment,rep,control_pct\n", "no plot"),
        ("PK\x03\x04", "workbook"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_whole(client: FlaskClient, text: str, words: str) -> None:
    status, said = sent_file(client, text)
    assert status == 422
    assert words in said
    assert "No trial was kept or changed" in said


def test_without_a_file_it_is_asked_for(client: FlaskClient) -> None:
    assert client.post("/trials/import", data={}).status_code == 422


def test_a_trial_of_a_name_that_is_kept_is_replaced_only_when_told(client: FlaskClient, store: Store) -> None:
    _, text = sent_file(client, trial_sheet("Mill Field"))
    client.post("/trials/import/confirm", data={"key": key_in(text)})
    _, text = sent_file(client, trial_sheet("Mill Field", reps=5))
    assert "kept already with other plots" in text
    assert client.post("/trials/import/confirm", data={"key": key_in(text)}).status_code == 422
    assert trials.listing(store)[0].version == 1
    _, text = sent_file(client, trial_sheet("Mill Field", reps=5))
    assert client.post("/trials/import/confirm", data={"key": key_in(text), "replace": "yes"}).status_code == 303
    assert trials.listing(store)[0].version == 2


def test_what_somebody_changed_after_the_preview_is_told_and_kept(client: FlaskClient, store: Store) -> None:
    _, text = sent_file(client, trial_sheet("Mill Field"))
    client.post("/trials/import/confirm", data={"key": key_in(text)})
    _, text = sent_file(client, trial_sheet("Mill Field", reps=5))
    held = trials.one(store, "mill-field")
    trials.change(store, "mill-field", {**held.trial.model_dump(mode="json"), "notes": "theirs"}, held.version)
    late = client.post("/trials/import/confirm", data={"key": key_in(text), "replace": "yes"})
    assert late.status_code == 409
    assert "This is how it stands now" in late.get_data(as_text=True)
    assert trials.one(store, "mill-field").trial.notes == "theirs"


def test_a_trial_answers_first_and_holds_every_figure_in_a_table(filled: FlaskClient, store: Store) -> None:
    text = page(filled, VIOLET)
    report = trials.report_of(store, VIOLET.rpartition("/")[2])
    last = report.analyses[-1]
    assert text.index(last.headline) < text.index("<h2")
    for row in last.means:
        assert f"<b>{row.mean:.1f}</b>" in text
    for said in last.comparisons:
        assert said.text in text
    for words in ("Analysis of variance", "LSD", "HSD", "Over the rating dates", "Colby", "Linnetby", "12 May 2026"):
        assert words in text
    # Every picture says in words what it shows, and the tables beside it have captions.
    pictures = re.findall(r"<img [^>]+>", text)
    assert len(pictures) == len(report.analyses) + len(report.courses)
    assert all(re.search(r'alt="[^"]{40,}', picture) for picture in pictures)
    assert text.count("<table") == text.count("<caption")


def test_what_a_trial_moves_is_shown_before_seen_and_now(filled: FlaskClient) -> None:
    text = page(filled, VIOLET)
    part = text[text.index("What it moves in the advice") :]
    for words in (
        "Knowledge base",
        "(prior)",
        "This trial",
        "Together",
        "(posterior)",
        "a mixture: records are of one active",
    ):
        assert words in part
    rows = re.findall(r"<b>(\d+) to (\d+), likely (\d+)</b>", part)
    assert len(rows) >= 6
    assert all(int(low) <= int(likely) <= int(high) for low, high, likely in rows)


@pytest.mark.parametrize(("alpha", "level"), [("0.10", "90"), ("0.05", "95"), ("0.01", "99")])
def test_the_chance_of_error_is_chosen(filled: FlaskClient, alpha: str, level: str) -> None:
    text = page(filled, f"{VIOLET}?alpha={alpha}")
    assert f"{level} % interval" in text
    assert f"alpha={alpha}" in text


def test_a_chance_of_error_that_is_not_offered_is_the_usual_one(filled: FlaskClient) -> None:
    assert "95 % interval" in page(filled, f"{VIOLET}?alpha=0.5")


@pytest.mark.parametrize("kind", ["svg", "png"])
@pytest.mark.parametrize("what", ["bars", "course"])
def test_a_picture_is_seen_or_taken(filled: FlaskClient, what: str, kind: str) -> None:
    path = f"{VIOLET}/{what}.{kind}?weed=wild-violet&days_after=28"
    seen = filled.get(path)
    assert seen.status_code == 200
    assert seen.data.startswith(b"<?xml" if kind == "svg" else b"\x89PNG")
    assert "Content-Disposition" not in seen.headers
    assert "attachment" in filled.get(f"{path}&download=yes").headers["Content-Disposition"]


@pytest.mark.parametrize(
    "path",
    [f"{VIOLET}/bars.svg?weed=wild-violet", "/trials/synthesis/forest.svg?weed=wild-violet&treatment=triclopyr"],
)
def test_a_picture_seen_again_is_neither_reckoned_nor_sent(
    filled: FlaskClient, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    first = filled.get(path)
    assert (first.status_code, first.headers["Cache-Control"]) == (200, "private, no-cache")
    told = {"If-None-Match": first.headers["ETag"]}
    with monkeypatch.context() as patch:
        patch.setattr("app.services.trials.picture_of", None)
        patch.setattr("app.services.trials.synthesis", None)
        again = filled.get(path, headers=told)
    assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", first.headers["ETag"])
    assert filled.get(f"{path}&alpha=0.01", headers=told).status_code == 200
    changed = filled.get(f"{VIOLET}/edit").get_data(as_text=True)
    fields = dict(re.findall(r'<input[^>]* name="([^"]+)"[^>]* value="([^"]*)"', changed))
    assert filled.get(VIOLET).headers["Cache-Control"] == "no-store"
    assert filled.post(f"{VIOLET}/remove", data={"version": fields["version"]}).status_code == 303
    assert filled.get(path, headers=told).status_code in (200, 404)


def test_charts_that_a_phone_shows_have_a_narrow_form(filled: FlaskClient) -> None:
    pages = (VIOLET, "/trials/larkmere-violet-rates-2026", "/trials/synthesis?weed=wild-violet&treatment=triclopyr")
    for path, what in zip(pages, ("course", "dose", "forest"), strict=True):
        found = filled.get(path).get_data(as_text=True)
        source = re.search(
            rf'<source media="[^"]*max-width[^"]*" srcset="([^"]+/{what}\.svg[^"]*narrow=1)"><img', found
        )
        assert source is not None
        address = unescape(source.group(1))
        narrow, wide = (filled.get(at).data for at in (address, address.removesuffix("&narrow=1")))
        widths = [float(re.search(rb'width="([\d.]+)pt"', svg).group(1)) for svg in (narrow, wide)]  # type: ignore[union-attr]
        assert widths[1] / widths[0] == pytest.approx(1600 / 720)
    bars = re.search(r'<figure class="chart bars">.*?</figure>', filled.get(VIOLET).get_data(as_text=True), re.DOTALL)
    assert bars is not None
    assert "narrow" not in bars.group()


def test_a_curve_over_rates_has_its_picture_and_its_table(filled: FlaskClient) -> None:
    text = page(filled, "/trials/larkmere-violet-rates-2026")
    assert "ED50" in text
    assert "ED90" in text
    picture = re.search(r'src="([^"]+/dose\.svg[^"]*)"', text)
    assert picture is not None
    assert filled.get(picture.group(1)).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/trials/never-sown",
        "/trials/never-sown/edit",
        "/trials/never-sown/remove",
        f"{VIOLET}/pie.svg?weed=wild-violet",
        f"{VIOLET}/bars.gif?weed=wild-violet",
        f"{VIOLET}/bars.svg?weed=dandelion",
        f"{VIOLET}/bars.svg?weed=wild-violet&days_after=3",
        f"{VIOLET}/dose.svg?weed=wild-violet",
        "/trials/synthesis/forest.svg?weed=wild-violet&treatment=mystery",
    ],
)
def test_what_is_not_kept_is_said_to_be_missing(filled: FlaskClient, path: str) -> None:
    assert filled.get(path).status_code == 404
