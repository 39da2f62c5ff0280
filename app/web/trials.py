"""Trials: the user's own plots and ratings, what they say, and what they move."""

from __future__ import annotations

from collections.abc import Callable

from flask import Blueprint, Response, abort, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import InputError, UnknownId
from app.services import knowledge_service, trials
from app.services.trial_marks import mark_of
from app.services.trial_moves import moves_of_trial, records_by_trial
from app.store.changed import Changed
from app.trials.pictures import Picture
from app.trials.trial import Trial
from app.web import trial_show
from app.web.conflict import Conflict, conflict
from app.web.security import here
from app.web.shelf import system
from app.web.trial_form import Typed, choices, form_treatments, label_of, read_trial, shown, words_of
from app.web.trial_moved import unused_words

blueprint = Blueprint("trials", __name__)
Page = str | BaseResponse | tuple[str, int]
_PICTURES = {"bars": "means", "course": "course", "dose": "dose"}
_KINDS = {"svg": "image/svg+xml", "png": "image/png"}
MOST_DIGITS = 4


@blueprint.get("/trials")
def listing() -> str:
    """Every kept trial."""
    return render_template(
        "trials.html",
        found=trials.listing(here()),
        moved=records_by_trial(here()),
        told=request.args.get("told", ""),
        counts={name: _count(name) or 0 for name in ("new", "replaced", "unchanged")},
        kind_words=trial_show.KIND_WORDS,
    )


@blueprint.get("/trials/<slug>")
def trial_page(slug: str) -> str:
    """What a trial says, the answer first."""
    base = knowledge_service.knowledge_base()
    kept = trials.one(here(), slug)
    alpha = told_alpha()
    report = trials.reported(kept, float(alpha))
    moved = moves_of_trial(here(), slug, kept.evidence)
    return render_template(
        "trial.html",
        trial=kept.trial,
        slug=slug,
        told=request.args.get("told", ""),
        where=trial_show.where_words(kept.trial, report, base),
        report=report,
        weeds=trial_show.by_weed(report),
        lawn_weeds=trial_show.lawns_by_weed(report),
        alpha=alpha,
        alphas=trial_show.ALPHAS,
        moved=moved,
        unused=unused_words(base, moved.unused, of_trial=True),
        silent=trial_show.silent_words(kept.silent, base),
        **trial_show.WORDS,
    )


def told_alpha() -> str:
    """The chance of error asked for; 5 % where it is none of those offered."""
    told = request.args.get("alpha", "")
    return next((alpha for alpha in trial_show.ALPHAS if told in (alpha, alpha.rstrip("0"))), "0.05")


@blueprint.get("/trials/<slug>/<what>.<kind>")
def picture(slug: str, what: str, kind: str) -> Response:
    """A picture of a trial, to be seen in its page or passed on."""
    if what not in _PICTURES or kind not in _KINDS:
        abort(404)

    def found() -> Picture:
        return trials.picture(
            here(),
            slug,
            _PICTURES[what],
            request.args.get("weed", "")[:80],
            _count("days_after"),
            curve=_count("curve") or 1,
            alpha=float(told_alpha()),
        )

    return pictured(found, kind, f"{slug}-{what}", slug)


def pictured(find: Callable[[], Picture], kind: str, name: str, slug: str | None = None) -> Response:
    """A picture as a response; a file to be kept where that is asked.

    A browser may keep it, but asks each time; nothing is reckoned where it holds the picture of the trial
    (of every trial where none is named) as it stands.
    """
    mark = mark_of(here(), request.full_path, slug)
    if request.if_none_match.contains(mark):
        return _to_be_asked_for(Response(status=304), mark)
    found = find()
    answered = Response(found.svg(narrow=_narrow()) if kind == "svg" else found.png(), mimetype=_KINDS[kind])
    if request.args.get("download"):
        answered.headers["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return _to_be_asked_for(answered, mark)


def _to_be_asked_for(answered: Response, mark: str) -> Response:
    answered.set_etag(mark)
    answered.headers["Cache-Control"] = "private, no-cache"
    return answered


def _narrow() -> bool:
    """Whether a picture is asked for that can be read on a phone."""
    return request.args.get("narrow") == "1"


def _count(name: str) -> int | None:
    told = request.args.get(name, "")
    return int(told) if told.isascii() and told.isdecimal() and len(told) <= MOST_DIGITS else None


@blueprint.get("/trials/<slug>/edit")
def edit_trial(slug: str) -> str:
    """What the treatments of a trial are made of, to be changed."""
    kept = trials.one(here(), slug)
    return _form(kept.trial, slug, Typed(shown(kept.trial, knowledge_service.knowledge_base())), kept.version)


@blueprint.post("/trials/<slug>/edit")
def change_trial(slug: str) -> Page:
    """Change a trial, unless somebody else was quicker."""
    version = _version()
    kept = trials.one(here(), slug)
    typed = read_trial(request.form, kept.trial, knowledge_service.knowledge_base())
    if typed.faults:
        return _form(kept.trial, slug, typed, version), 422
    try:
        trials.change(here(), slug, {**_untyped(kept.trial), **typed.payload}, version)
    except InputError as error:
        typed.blame(error.faults)
        return _form(kept.trial, slug, typed, version), 422
    except Changed as changed:
        shown_conflict = _conflict(typed, changed)
        return _form(kept.trial, slug, typed, changed.version or version, shown_conflict), 409
    return redirect(f"/trials/{slug}?told=changed", code=303)


def _untyped(trial: Trial) -> dict[str, object]:
    """What the form does not ask for stays as it is."""
    return {"name": trial.name, "kind": trial.kind, "design": trial.design}


def _version() -> int:
    told = request.form.get("version", "")
    return int(told) if told.isdecimal() and len(told) < 10 else 0


def _conflict(typed: Typed, changed: Changed) -> Conflict:
    """What differs between what was typed and what is kept now."""
    if changed.stored is None:
        # Without its plots there is nothing to put back.
        raise UnknownId("trial", changed.key, (), "that is kept")
    base = knowledge_service.knowledge_base()
    theirs = Trial.model_validate(changed.stored).model_dump(mode="json")
    mine, other = words_of(typed.payload, base), words_of(theirs, base)
    rows = ((name, mine.get(name, ""), other.get(name, "")) for name in dict.fromkeys([*mine, *other]))
    return conflict(changed, rows, f"/trials/{changed.key}/edit")


def _form(trial: Trial, slug: str, typed: Typed, version: int, conflicting: Conflict | None = None) -> str:
    base = knowledge_service.knowledge_base()
    return render_template(
        "trial_edit.html",
        trial=trial,
        slug=slug,
        typed=typed.fields,
        faults=typed.faults,
        version=version,
        conflict=conflicting,
        treatments=form_treatments(trial, base),
        label_of=lambda name: label_of(name, trial),
        **choices(base, system()),
    )


@blueprint.get("/trials/<slug>/remove")
def ask_to_remove(slug: str) -> str:
    """Ask whether to remove a trial."""
    kept = trials.one(here(), slug)
    return render_template("trial_remove.html", trial=kept.trial, slug=slug, version=kept.version, changed=False)


@blueprint.post("/trials/<slug>/remove")
def remove_trial(slug: str) -> Page:
    """Remove a trial, unless somebody else changed it meanwhile."""
    try:
        trials.remove(here(), slug, _version())
    except Changed as changed:
        if changed.stored is not None:
            kept = trials.one(here(), slug)
            page = render_template("trial_remove.html", trial=kept.trial, slug=slug, version=kept.version, changed=True)
            return page, 409
    return redirect("/trials?told=removed", code=303)
