"""The first step of planning a branch: every property gives its question, and equal ones become one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from pydantic import ValidationError
from sqlalchemy.orm import Session

from app.engine.errors import InputError
from app.season.property import Property
from app.season.record import ApplicationRecord
from app.season.year import YearAsked, YearOptions
from app.season.year_fold import Folded, folded
from app.services.properties import KeptProperty, of_stored_property
from app.services.scouting import of_stored
from app.services.year_job_lease import Holding
from app.services.year_job_shapes import BranchYear, JobDocument, PlaceDocument, PlacePart, plain_of
from app.services.year_question import YearNote, YearWish, first_record, known_of, question
from app.store import properties as places
from app.store import records
from app.store import year_jobs as kept
from app.store.keyed import Document
from app.store.keyed import Stored as StoredNote
from app.store.named import Stored
from app.store.opening import Store
from knowledge.models.common import SiteUse

# So many properties are read, folded and written at once.
BATCH = 100
_SQUARE_FEET = "ft2"


_NO_NOTE = YearNote()


@dataclass(frozen=True)
class Asked:
    """What is asked for the areas of one use of a property and how that came about, or why nothing can be."""

    asked: YearAsked | None
    note: YearNote = _NO_NOTE
    reason: str = ""


# Gives the questions of some properties, by property.
Asks = Callable[[Store, Sequence[KeptProperty], BranchYear], dict[str, tuple[Asked, ...]]]


def asks_of(store: Store, found: Sequence[KeptProperty], told: BranchYear) -> dict[str, tuple[Asked, ...]]:
    """The questions of properties, one for each use of the turf of each, by what is kept of them now."""
    slugs = [place.slug for place in found]
    with store.reading() as session:
        notes = places.notes_of(session, slugs)
        sprayed = records.of_properties(session, slugs, first_record(told.season))
    by_property: dict[str, list[ApplicationRecord]] = {}
    for item in sprayed:
        record = ApplicationRecord.model_validate(item.document)
        by_property.setdefault(record.property or "", []).append(record)
    return {
        place.slug: tuple(
            _asked(store, place, told, use, notes.get(place.slug, ()), by_property.get(place.slug, ()))
            for use in _uses(place.property)
        )
        for place in found
    }


def _uses(told: Property) -> tuple[SiteUse | None, ...]:
    able = dict.fromkeys(area.site_use for area in told.areas if area.turf and area.site_use is not None)
    # Without any, the question itself says what is missing.
    return tuple(able) or (None,)


def _asked(
    store: Store,
    place: KeptProperty,
    told: BranchYear,
    use: SiteUse | None,
    notes: Sequence[StoredNote],
    sprayed: Sequence[ApplicationRecord],
) -> Asked:
    wish = YearWish.model_validate(
        {
            "site_use": use,
            "from": told.start,
            "visits": told.visits.model_dump(),
            "catalog": told.catalog,
            "limits": told.limits.model_dump(),
        }
    )
    # As a property's page lists them: the open ones first.
    seen = sorted((of_stored(item) for item in notes), key=lambda item: not item.open)
    try:
        here = [item.note for item in seen]
        known = known_of(place.slug, place.property, here, sprayed, told.season, told.start, use)
        found = question(store, place.slug, told.season, wish, found=known)
    except InputError as error:
        return Asked(None, reason=error.faults[0].message)
    options = YearOptions(frontier=False, time_limit_s=told.time_limit_s)
    return Asked(found.asked.model_copy(update={"options": options}), found.note)


def fold_all(holding: Holding, told: JobDocument, asks: Asks = asks_of) -> bool:
    """Fold the properties of a job that are not folded yet, a batch at a time; whether to go on.

    Raises
    ------
    LeaseLost
        When somebody else took the job over.
    """
    wish, place = told.asked, told.folded_to
    while True:
        with holding.store.reading() as session:
            found = places.after(session, place, BATCH, wish.search, wish.technician or None)
        if not found:
            return holding.keep(folded=True)
        place = found[-1][0]
        folds: dict[str, Document] = {}
        rows = []
        for row, slug, parts in _rows(holding.store, [item for _, item in found], wish, asks):
            folds |= {part.fold: plain_of(part.asked) for part in parts}
            rows.append((slug, row.parts[0].fold if row.parts else None, plain_of(row)))
        if not holding.keep(_writer(holding.key, folds, rows), folded_to=place):
            return False


def _rows(
    store: Store, items: Sequence[Stored], wish: BranchYear, asks: Asks
) -> Iterator[tuple[PlaceDocument, str, list[Folded]]]:
    readable: dict[str, KeptProperty] = {}
    for item in items:
        try:
            readable[item.slug] = of_stored_property(item)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            what = f"what is kept of it is damaged ({'.'.join(str(part) for part in first['loc'])}: {first['msg']})"
            yield PlaceDocument(name=item.name, technician="", reasons=(what,)), item.slug, []
    asked = asks(store, tuple(readable.values()), wish)
    for slug, place in readable.items():
        row, parts = _placed(place, asked[slug])
        yield row, slug, parts


def _writer(
    key: str, folds: dict[str, Document], rows: Sequence[tuple[str, str | None, Document]]
) -> Callable[[Session], None]:
    def write(session: Session) -> None:
        known = kept.known_folds(session, key, list(folds))
        kept.add(session, key, {fold: asked for fold, asked in folds.items() if fold not in known}, rows)

    return write


def _placed(place: KeptProperty, asked: Iterable[Asked]) -> tuple[PlaceDocument, list[Folded]]:
    parts: list[PlacePart] = []
    found: list[Folded] = []
    reasons: list[str] = []
    for item in asked:
        if item.asked is None:
            reasons.append(item.reason)
            continue
        fold = folded(item.asked)
        found.append(fold)
        parts.append(
            PlacePart(
                fold=fold.fold,
                site_use=item.asked.site_use,
                areas=fold.areas,
                names={area.id: area.name for area in item.asked.areas},
                sizes={a.id: a.area.quantity.to(_SQUARE_FEET).value for a in item.asked.areas if a.area is not None},
            )
        )
    told = place.property
    row = PlaceDocument(name=told.name, technician=told.technician, parts=tuple(parts), reasons=tuple(reasons))
    return row, found
