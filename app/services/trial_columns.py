"""The columns of a file of plots, and the headings under which they are found."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from app.engine.errors import FieldFault, InputError
from app.engine.understood import nearest
from app.services.csv_text import refused
from app.services.trial_cells import is_blank

# Known name -> the heading in the file; an empty heading leaves a column out.
Columns = dict[str, str]

# Known names with the headings of the trade that mean them, as `_plain` writes them.
HEADINGS: dict[str, tuple[str, ...]] = {
    "trial": ("trialname", "trialid", "study", "studyname", "studyid", "experiment", "experimentname"),
    "weed": ("weedname", "weedspecies", "species", "target", "targetweed"),
    "days_after": (
        "days", "daa", "dat", "daysafterapplication", "daysaftertreatment", "daysafterapp", "daysaftertrt",
        "daysafterspraying",
    ),
    "treatment": ("trt", "treat", "treatmentname", "trtname"),
    "rep": ("block", "blk", "replicate", "replication", "repl", "reps", "lawn"),
    "control_pct": ("control", "percentcontrol", "controlpercent", "pctcontrol", "weedcontrol"),
    "actives": ("active", "activeingredient", "activeingredients", "ai"),
    "rate": ("rates", "dose", "applicationrate"),
    "form": ("forms", "salt"),
    "adjuvant": ("surfactant", "adj"),
    "applications": ("numberofapplications", "apps", "sprays", "timesapplied", "timessprayed"),
    "stage": ("weedstage", "growthstage", "stageatapplication"),
    "turf": ("turfgrass", "grass", "turfspecies"),
    "injury_pct": (
        "injury", "turfinjury", "percentinjury", "injurypercent", "pctinjury", "phytotoxicity", "turfinjurypct",
    ),
    "cover_pct": ("cover", "weedcover", "percentcover", "coverpercent", "pctcover", "weedcoverpct"),
    "cover_before_pct": (
        "coverbefore", "initialcover", "initialcoverpct", "coveratapplication", "startingcover", "coverbeforepercent",
    ),
    "place": ("location", "site"),
    "applied": ("applicationdate", "dateapplied", "dateofapplication", "sprayed"),
    "season": (),
    "design": ("trialdesign", "experimentaldesign"),
    "kind": ("trialkind", "kindoftrial"),
}  # fmt: skip
KNOWN = tuple(HEADINGS)
RATINGS = ("control_pct", "cover_pct")
NEEDED = ("trial", "weed", "days_after", "treatment", "rep", "control_pct")


def _plain(heading: str) -> str:
    return re.sub(r"[^a-z0-9]+", "", heading.casefold())


_MEANT = {_plain(text): name for name, others in HEADINGS.items() for text in (name, *others)}


def shown(heading: str) -> str:
    """A heading with its white space made plain."""
    return " ".join(heading.split())


def is_known(heading: str, columns: Mapping[str, str] | None = None) -> bool:
    """Whether a heading is one that this reads, by itself or as told."""
    return _plain(heading) in _MEANT or shown(heading) in {shown(told) for told in (columns or {}).values() if told}


def guessed_columns(header: Sequence[str]) -> dict[str, str]:
    """Heading by known name as far as it can be guessed; of two that mean one, the first."""
    found: dict[str, str] = {}
    for heading in (shown(cell) for cell in header):
        name = _MEANT.get(_plain(heading))
        if name is not None:
            found.setdefault(name, heading)
    return found


def columns_of(header: Sequence[str], told: Mapping[str, str] | None = None) -> dict[str, int]:
    """Where each known column stands.

    Parameters
    ----------
    header : sequence of str
        The headings of the file.
    told : dict of str to str, optional
        Headings by known name as the user says; the other columns are guessed from the headings left.

    Raises
    ------
    InputError
        Where a needed column cannot be found, or two headings mean one.
    """
    headings = [shown(cell) for cell in header]
    found = _told(headings, told or {})
    left_out = {name for name, heading in (told or {}).items() if not shown(heading)}
    guessed: dict[str, list[int]] = {}
    for index, heading in enumerate(headings):
        name = _MEANT.get(_plain(heading))
        if name is not None and name not in found and name not in left_out and index not in found.values():
            guessed.setdefault(name, []).append(index)
    for name, at in guessed.items():
        if len(at) > 1:
            both = " and ".join(f"'{headings[index]}'" for index in at)
            raise refused(f"{both} both mean the column {name}; say which one it is, or rename the other")
        found[name] = at[0]
    missing = [name for name in NEEDED if name not in found and not (name == "control_pct" and "cover_pct" in found)]
    if missing:
        heads = ", ".join(heading or "(empty)" for heading in headings[:30])[:300]
        need = f"the columns needed are {', '.join(NEEDED)}"
        raise refused(f"no column is found for {', '.join(missing)}; {need}, and the first line has {heads}")
    return found


def refuse_unrated(header: Sequence[str], at: Mapping[str, int], rows: Sequence[Sequence[str]]) -> None:
    """Refuse a file without any rating where they may stand under a heading that is not known.

    Raises
    ------
    InputError
        At `columns.control_pct`, since the user can say which heading it is.
    """
    held = [at[name] for name in RATINGS if name in at]
    others = [shown(head) for index, head in enumerate(header) if head.strip() and index not in at.values()]
    rated = any(index < len(cells) and not is_blank(cells[index]) for cells in rows for index in held)
    if rated or not others:
        return
    empty = " and ".join(f"'{shown(header[index])}'" for index in held)
    say = f"no row holds a rating, for {empty} {'is' if len(held) == 1 else 'are'} empty"
    which = f"say which of the columns that are not read ({', '.join(others)[:200]}) holds the control seen"
    raise InputError([FieldFault("columns.control_pct", f"{say}; {which}, or fill it in")])


def _told(headings: Sequence[str], told: Mapping[str, str]) -> dict[str, int]:
    found: dict[str, int] = {}
    faults = []
    for name, heading in told.items():
        path, wanted = f"columns.{name}", shown(heading)
        at = [index for index, head in enumerate(headings) if head == wanted]
        at = at or [index for index, head in enumerate(headings) if _plain(head) and _plain(head) == _plain(wanted)]
        if name not in HEADINGS:
            faults.append(FieldFault(path, f"'{name}' is no column of a file of plots; use one of {', '.join(KNOWN)}"))
        elif not wanted:
            continue
        elif not at:
            near = ", ".join(nearest(wanted, [head for head in headings if head]))
            faults.append(FieldFault(path, f"no heading of the file is '{wanted[:80]}'; nearest: {near}"))
        elif len(at) > 1:
            faults.append(FieldFault(path, f"the heading '{wanted[:80]}' stands twice in the file; rename one of them"))
        elif at[0] in found.values():
            other = next(key for key, index in found.items() if index == at[0])
            faults.append(FieldFault(path, f"the heading '{wanted[:80]}' is told for {other} already; give it once"))
        else:
            found[name] = at[0]
    if faults:
        raise InputError(faults)
    return found
