"""The columns of files of properties and of notes, as the pages explain them."""

from __future__ import annotations

from dataclasses import dataclass

from app.services.property_columns import NOTE_HEADINGS, PROPERTY_HEADINGS

PROPERTIES_NEEDED, NOTES_NEEDED = ("property",), ("property", "weed", "date")


@dataclass(frozen=True)
class Column:
    """A column: its name, what stands in it, an example, and whether the file cannot be read without it."""

    name: str
    about: str
    example: str
    needed: bool

    @property
    def label(self) -> str:
        """Its name in words."""
        return self.name.replace("_", " ").capitalize()


_ABOUT = {
    "property": ("Name of the property; where there is no such column, the address is its name.", "12 Mill Lane"),
    "customer": ("Who is billed; who is not kept yet is added.", "Ada Fenn"),
    "customer_address": ("Where the bill goes.", ""),
    "customer_phone": ("How to reach them.", ""),
    "customer_email": ("How to reach them.", ""),
    "customer_notes": ("What else is worth knowing of them.", ""),
    "address": ("Where the lawn lies.", "12 Mill Lane, Fennick"),
    "zone": ("cool-humid, cool-arid, transition, warm-humid or warm-arid.", "cool-humid"),
    "technician": ("On whose round it is.", "Jo Alder"),
    "latitude": ("Degrees north.", "40.11"),
    "longitude": ("Degrees east, so west is less than zero.", "-88.24"),
    "ended": ("Last day of service, where it ended.", "2027-10-31"),
    "property_notes": ("Gate, dog, who to call.", "gate on the left"),
    "plans": ("What is planned, the day, the area; a semicolon between two.", "seeding 2027-09-10 on front"),
    "local_rules": ("What is barred here; a semicolon between two.", 'ban-active dicamba "town rule"'),
    "area": ("A part with one grass that is treated alike; one row each.", "Front"),
    "area_id": ("What the app calls the area; leave it empty for a new one.", ""),
    "turf": ("The grass by any of its names; several of a mixed stand with a semicolon.", "tall fescue; KBG"),
    "size": ("Of the turf, with its unit here, in the next column, or in the heading.", "6,500 sq ft"),
    "unit": ("ft2, acre, m2 or ha.", "ft2"),
    "site_use": ("Use of the turf, as labels name it.", "residential lawn"),
    "slope": ("flat, gentle or steep.", "flat"),
    "surroundings": ("What stands near; a semicolon between two.", "tree-roots; surface-water"),
    "mowing_height": ("With its unit.", "3.5 in"),
    "irrigation": ("none, by-hand or system.", "system"),
    "stand": ("established, seedling, newly-sodded or newly-sprigged.", "established"),
    "emerged": ("Day on which the seedlings of a young stand came up.", "2027-04-20"),
    "green_up": ("dormant, transition or active; empty for what the calendar says.", ""),
    "stress": ("none, drought, heat, shade, disease or traffic.", "none"),
    "area_notes": ("What else is worth knowing of the area.", ""),
}
_ABOUT_NOTES = {
    "property": ("Name of a property that is kept.", "12 Mill Lane"),
    "area": ("Area of that property; may be empty where it has one.", "Front"),
    "weed": ("By any name people use.", "creeping charlie"),
    "stage": ("By its id; empty where it was not looked at.", "flowering"),
    "tillers": ("Of grasses, on a usual plant.", "2"),
    "leaves": ("Of grasses and sedges.", "4"),
    "cover_pct": ("Of the ground, in percent.", "15"),
    "date": ("Day on which it was seen.", "2027-06-01"),
    "by": ("Who saw it.", "Jo Alder"),
    "priority": ("Weight; usually 1.", "1"),
    "resistant_to": ("Groups or actives that it is known to resist, with commas.", "3"),
    "note": ("What else was seen.", ""),
    "closed": ("Day from which it no longer counts.", ""),
    "key": ("What the app calls the note; leave it empty for a new one.", ""),
}
PROPERTY_COLUMNS = tuple(Column(name, *_ABOUT[name], name in PROPERTIES_NEEDED) for name in PROPERTY_HEADINGS)
NOTE_COLUMNS = tuple(Column(name, *_ABOUT_NOTES[name], name in NOTES_NEEDED) for name in NOTE_HEADINGS)
