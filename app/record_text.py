"""Application records as text for the command line."""

from __future__ import annotations

from app.season.record_rules import Gap, still_to_fill
from app.services.knowledge_service import knowledge_base
from app.services.record_shapes import FollowUpKept, RecordKept, RecordListing, RecordReading
from app.services.record_words import words_of


def listing_text(found: RecordListing) -> str:
    """Every record on a line of its own, what is still to be filled under it."""
    if not found.records:
        return "No record is found. Keep one on the page /record/new, or from a stop of a round.\n"
    lines = []
    for item in found.records:
        record = item.record
        products = ", ".join(product.name for product in record.products)
        state = "  VOID" if record.void else ""
        lines.append(f"{item.key}  {record.date} {record.started:<5}  {record.where}: {products}{state}")
        lines += [f"    {told}" for told in [_gaps(item)] if told]
    counted = f"{found.total} record{'' if found.total == 1 else 's'}, page {found.page} of {found.pages}"
    return "\n".join([*lines, f"{counted}; {found.unfinished} still to be filled.", ""])


def record_text(found: RecordReading) -> str:
    """A record with what is still to be filled, its history and its ratings."""
    told = words_of(found.record, knowledge_base())
    wide = max(len(label) for label, words in told.items() if words)
    lines = [f"Record {found.key}, version {found.version}", ""]
    lines += [told for told in [_gaps(found), *found.stock] if told]
    lines += [f"{label:<{wide}}  {words}" for label, words in told.items() if words]
    if found.record.filled_in:
        lines.append(f"{'Filled in, not typed':<{wide}}  {', '.join(found.record.filled_in)}")
    for seen in found.follow_ups:
        lines += ["", *_rating(seen)]
    for change in found.history:
        lines += [
            "",
            f"Changed {change.at:%Y-%m-%d %H:%M} UTC by {change.by or 'nobody named'}: {change.why or 'no reason'}",
        ]
        lines += [
            f"  {item.field}: {item.before or 'nothing'} -> {item.after or 'nothing'}" for item in change.differences
        ]
    return "\n".join(lines) + "\n"


def _gaps(item: RecordKept) -> str:
    return still_to_fill(tuple(Gap(gap.path, gap.name) for gap in item.gaps))


def _rating(seen: FollowUpKept) -> list[str]:
    told = [f"{weed} {control:g} % control" for weed, control in seen.follow_up.ratings.items()]
    told += [f"injury {seen.follow_up.injury_pct:g} %"] if seen.follow_up.injury_pct is not None else []
    lines = [f"Rated {seen.follow_up.date}, {seen.days_after} days after: {'; '.join(told) or 'in words'}"]
    lines += [f"  {line}" for line in seen.follow_up.text.splitlines()]
    lines += [f"  stands in the trial {slug}" for slug in seen.trials]
    return [*lines, *(f"  {said}" for said in seen.said)]
