"""Rules of the place: site use, surroundings and local rules."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from app.engine.rules.registry import Finding, Question, rule


@rule("site-use", "dose")
def site_use(question: Question) -> Iterator[Finding]:
    """Some actives are kept from some places."""
    here = question.understood.situation.site_use
    for record in question.dose.active.sites_barred:
        if here in record.site_uses:
            name = question.base.sites[here].name
            yield Finding("site-use", "stop", {**question.named, "site": name, "why": record.text}, record.sources)


@rule("surroundings", "dose")
def surroundings(question: Question) -> Iterator[Finding]:
    """What stands near the turf can bar an active or ask for care."""
    for record in question.dose.active.surroundings:
        if record.id in question.understood.situation.surroundings:
            values = {**question.named, "near": question.base.surroundings[record.id].name, "why": record.text}
            yield Finding("surroundings", "stop" if record.outcome == "stop" else "warning", values, record.sources)


@rule("local-rule", "repeat")
def local_rule(question: Question) -> Iterator[Finding]:
    """A rule of the place binds as a hard stop."""
    situation, dose = question.understood.situation, question.dose
    days = [situation.date, situation.date + timedelta(days=question.last_day)]
    for told in situation.local_rules:
        barred = {
            "ban-active": told.active == dose.active.id,
            "ban-form": told.form == dose.form.id,
            "ban-group": told.group == dose.active.mechanism.group,
            "closed-season": told.start is not None
            and told.end is not None
            and any(told.start <= day <= told.end for day in days),
        }[told.kind]
        if barred:
            note = told.note or "as told in local_rules"
            yield Finding("local-rule", "stop", {**question.named, "note": note})
