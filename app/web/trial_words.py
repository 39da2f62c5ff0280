"""What a file of plots holds, column by column, in words for the people who fill it."""

from __future__ import annotations

from dataclasses import dataclass

from app.services.trial_columns import KNOWN, NEEDED


@dataclass(frozen=True)
class Column:
    """A column of a file of plots: its heading, what stands in it, and an example."""

    name: str
    about: str
    example: str

    @property
    def needed(self) -> bool:
        """Whether a file cannot do without it."""
        return self.name in NEEDED

    @property
    def label(self) -> str:
        """Its name as a form writes it."""
        return LABELS[self.name]


LABELS = {
    "trial": "Trial",
    "weed": "Weed",
    "days_after": "Days after application",
    "treatment": "Treatment",
    "rep": "Replicate or block",
    "control_pct": "Control, %",
    "actives": "Actives",
    "rate": "Rate",
    "form": "Salt or ester",
    "adjuvant": "Adjuvant",
    "applications": "Sprays",
    "stage": "Stage when treated",
    "turf": "Turf",
    "injury_pct": "Injury of the turf, %",
    "cover_pct": "Cover of the weed, %",
    "cover_before_pct": "Cover before application, %",
    "place": "Place",
    "applied": "Applied on",
    "season": "Season",
    "design": "Design",
    "kind": "Plots or lawns",
}
_ABOUT: dict[str, tuple[str, str]] = {
    "trial": ("Name of the trial; a file may hold several", "Mill Field 2026"),
    "weed": ("Weed that was rated, by any common name", "wild violet"),
    "days_after": ("Days from application to rating", "28"),
    "treatment": ("Name of the treatment; nontreated is the check", "triclopyr 1 lb"),
    "rep": ("Replicate or block of the plot", "3"),
    "control_pct": ("Control against the check, 0 to 100; empty where the plot was not rated", "85"),
    "actives": ("Actives by common name, a semicolon between two", "triclopyr; 2,4-D"),
    "rate": ("Rate of each active with its unit, in the same order", "0.5 lb ae/acre; 1 lb ae/acre"),
    "form": ("Salt or ester of each active, in the same order", "triclopyr-tea; NA"),
    "adjuvant": ("Adjuvant in the tank, or none", "nis"),
    "applications": ("How often it was sprayed, 1 where empty; days after count from the last spray", "2"),
    "stage": ("Growth stage of the weed when it was treated", "flowering"),
    "turf": ("Turf of the plots", "tall fescue"),
    "injury_pct": ("Injury of the turf, 0 to 100", "5"),
    "cover_pct": ("Cover of the weed, 0 to 100; stands in for control where that was not rated", "12"),
    "cover_before_pct": ("Cover of the weed before application", "60"),
    "place": ("Where the plots lay", "Larkmere research turf"),
    "applied": ("Day of the application, YYYY-MM-DD", "2026-05-20"),
    "season": ("Season of the application; some records hold in their own season alone", "late spring"),
    "design": (
        "rcbd (randomised complete blocks) or crd (completely randomised); read off the plots where empty",
        "rcbd",
    ),
    "kind": ("plots, or lawns for treated lawns rated without a check", "plots"),
}
COLUMNS = tuple(Column(name, *_ABOUT[name]) for name in KNOWN)
