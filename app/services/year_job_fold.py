"""The first step of planning a branch: every property gives its question, and equal ones become one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from pydantic import ValidationError
from sqlalchemy.orm import Session

from app.engine.errors import InputError
from app.season.property import Property
from app.season.year import YearAsked, YearOptions
from app.season.year_fold import Folded, folded
from app.services.properties import KeptProperty, of_stored_property
from app.services.year_job_lease import Holding
from app.services.year_job_shapes import BranchYear, JobDocument, PlaceDocument, PlacePart, plain_of
from app.services.year_question import YearNote, YearWish, question
from app.store import properties as places
from app.store import year_jobs as kept
from app.store.keyed import Document
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


Asks = Callable[[Store, KeptProperty, BranchYear], Sequence[Asked]]


def asks_of(store: Store, place: KeptProperty, told: BranchYear) -> tuple[Asked, ...]:
    """The questions of a property, one for each use of its turf, by what is kept of it now."""
    return tuple(_asked(store, place, told, use) for use in _uses(place.property))


def _uses(told: Property) -> tuple[SiteUse | None, ...]:
    able = dict.fromkeys(area.site_use for area in told.areas if area.turf and area.site_use is not None)
    # Without any, the question itself says what is missing.
    return tuple(able) or (None,)


def _asked(store: Store, place: KeptProperty, told: BranchYear, use: SiteUse | None) -> Asked:
    wish = YearWish.model_validate(
        {
            "site_use": use,
            "from": told.start,
            "visits": told.visits.model_dump(),
            "catalog": told.catalog,
            "limits": told.limits.model_dump(),
        }
    )
    try:
        found = question(store, place.slug, told.season, wish)
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
        for _, item in found:
            row, parts = _row(holding.store, item, wish, asks)
            folds |= {part.fold: plain_of(part.asked) for part in parts}
            rows.append((item.slug, row.parts[0].fold if row.parts else None, plain_of(row)))
        if not holding.keep(_writer(holding.key, folds, rows), folded_to=place):
            return False


def _row(store: Store, item: Stored, wish: BranchYear, asks: Asks) -> tuple[PlaceDocument, list[Folded]]:
    try:
        place = of_stored_property(item)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        what = f"what is kept of it is damaged ({'.'.join(str(part) for part in first['loc'])}: {first['msg']})"
        return PlaceDocument(name=item.name, technician="", reasons=(what,)), []
    return _placed(place, asks(store, place, wish))


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
