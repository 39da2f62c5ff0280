"""Properties, notes and their files as text for people."""

from __future__ import annotations

from app.season.property import Property, PropertyArea
from app.services.property_answers import NoteListing, NoteTold, PropertyListing, PropertyOne
from app.services.property_import_answer import ImportTold

_MOST_LISTED = 20


def listing_text(found: PropertyListing) -> str:
    """One line a property."""
    if not found.properties:
        return "No property is found; import a file, or add one in the app.\n"
    width = max(len(item.id) for item in found.properties)
    lines = []
    for item in found.properties:
        parts = [item.property.name, item.customer_name, item.property.technician]
        parts += [f"{item.open_notes} open note{'' if item.open_notes == 1 else 's'}"] if item.open_notes else []
        parts += [f"{len(item.missing)} missing"] if item.missing else []
        lines.append(f"{item.id:<{width}}  {'; '.join(part for part in parts if part)}")
    of = f", page {found.page} of {found.pages}" if found.pages > 1 else ""
    return "\n".join([*lines, f"{found.found:,} propert{'y' if found.found == 1 else 'ies'}{of}"]) + "\n"


def property_text(found: PropertyOne, noted: NoteListing) -> str:
    """A property with its areas, what is missing and its open notes."""
    told = found.property
    lines = [f"{told.name} ({found.id}), version {found.version}"]
    rows = [("customer", found.customer_name), ("address", told.address), ("zone", told.zone or "not told")]
    rows += [("technician", told.technician), ("service ended", told.ended.isoformat() if told.ended else "")]
    lines += [f"  {label}: {words}" for label, words in rows if words]
    lines += [f"  {area.name} ({area.id}): {_area(area)}" for area in told.areas]
    lines += [f"  planned {words}" for words in _plans(told)]
    if found.missing:
        lines += ["Not plannable yet:", *(f"  {item.text}." for item in found.missing)]
    names = {area.id: area.name for area in told.areas}
    open_notes = [note for note in noted.notes if note.note.closed is None]
    lines += ["Open notes:", *(f"  {_note(note, names)}" for note in open_notes)] if open_notes else ["No open note."]
    if found.records:
        lines.append(f"{found.records} application record{'' if found.records == 1 else 's'}.")
    return "\n".join(lines) + "\n"


def _area(area: PropertyArea) -> str:
    parts = [", ".join(area.turf) or "turf not told"]
    parts.append(f"{area.area.value:,.10g} {area.area.unit}" if area.area is not None else "size not told")
    parts.append(area.site_use or "use not told")
    parts += [f"near {', '.join(area.surroundings)}"] if area.surroundings else []
    return "; ".join(parts)


def _plans(told: Property) -> list[str]:
    found = []
    for plan in sorted(told.plans, key=lambda item: item.date):
        where, words = f" on {plan.area}" if plan.area else "", f", {plan.text}" if plan.text else ""
        found.append(f"{plan.date.isoformat()}: {plan.kind}{where}{words}")
    return found


def notes_text(found: NoteListing) -> str:
    """One line a note."""
    if not found.notes:
        return "No weed is noted on this property.\n"
    return "\n".join(f"{item.key}  {_note(item, {})}" for item in found.notes) + "\n"


def _note(item: NoteTold, names: dict[str, str]) -> str:
    note = item.note
    parts = [note.stage or "stage not told"]
    parts += [f"{note.cover_pct:g} % cover"] if note.cover_pct is not None else []
    parts += [f"seen {note.date.isoformat()}{f' by {note.by}' if note.by else ''}"]
    parts += [f"closed {note.closed.isoformat()}"] if note.closed else []
    return f"{item.weed_name} on {names.get(note.area, note.area)}: {', '.join(parts)}"


def import_text(found: ImportTold, what: str) -> str:
    """What importing a file does or has done."""
    lines = [
        f"line {fault.line}, {fault.column or 'whole row'}: {fault.message}" for fault in found.faults[:_MOST_LISTED]
    ]
    if len(found.faults) > _MOST_LISTED:
        lines.append(f"and {len(found.faults) - _MOST_LISTED} more cells that cannot be used")
    changed = [row for row in found.rows if row.status == "changed"]
    for row in changed[:_MOST_LISTED]:
        what_changes = f" ({'; '.join(row.changes)})" if row.changes else ""
        lines.append(f"changed: {row.name}{what_changes}")
    if found.ignored:
        lines.append(f"columns that are not read: {', '.join(found.ignored)}")
    counts = f"{found.new:,} new, {found.changed:,} changed, {found.unchanged:,} unchanged"
    if not found.stored:
        lines.append(f"{counts}: nothing is stored yet; --confirm imports the {what}")
    else:
        left = f", {found.left:,} left as kept (--replace replaces them)" if found.left else ""
        lines.append(f"{counts}: imported, {found.replaced:,} replaced{left}")
    return "\n".join(lines) + "\n"
