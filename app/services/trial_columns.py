"""The columns of a file of plots, and the headings under which they are found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from app.engine.errors import FieldFault, InputError
from app.services.csv_columns import Headings, shown
from app.services.trial_cells import is_blank

# Known name -> the heading in the file; an empty heading leaves a column out.
Columns = dict[str, str]

# Known names with the headings of the trade that mean them, as `plain_heading` writes them.
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


_HEADINGS = Headings("a file of plots", HEADINGS, NEEDED, {"control_pct": ("cover_pct",)})
is_known, guessed_columns, columns_of = _HEADINGS.is_known, _HEADINGS.guessed, _HEADINGS.at


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
