"""Versions, where data live, backup and restore."""

from __future__ import annotations

from datetime import UTC, datetime

from flask import Blueprint, Response, flash, redirect, render_template, request
from werkzeug.wrappers import Response as BaseResponse

from app.engine.errors import FieldFault, InputError
from app.services import backup, knowledge_service
from app.store.opening import backup_folder
from app.web.security import here

blueprint = Blueprint("about", __name__)


def _page(faults: dict[str, str] | None = None) -> str:
    return render_template(
        "about.html",
        coverage=knowledge_service.coverage(),
        cache=knowledge_service.snapshot_folder(),
        kept_at=here().where,
        backups=backup_folder(here()),
        faults=faults or {},
    )


@blueprint.get("/about")
def about() -> str:
    """Versions, where data live, and what this does not do."""
    return _page()


@blueprint.post("/backup")
def write_backup() -> Response:
    """Everything that is kept, as one archive."""
    now = datetime.now(UTC)
    answered = Response(backup.archive_of(here(), now), mimetype="application/zip")
    answered.headers.set("Content-Disposition", "attachment", filename=backup.archive_name(now))
    return answered


@blueprint.post("/restore")
def restore() -> BaseResponse | tuple[str, int]:
    """Replace everything by what an archive holds."""
    sent = request.files.get("backup")
    faults = []
    if sent is None or not sent.filename:
        faults.append(FieldFault("backup", "choose the archive to restore"))
    if request.form.get("replace") != "yes":
        faults.append(FieldFault("replace", "tick that everything that is kept now is replaced"))
    try:
        if faults or sent is None:
            raise InputError(faults)
        counts, before = backup.restore_backup(here(), sent.read(), datetime.now(UTC))
    except InputError as error:
        return _page({fault.path: fault.message for fault in error.faults}), 422
    flash(f"{backup.counted(counts)}. What was kept before is in {before}.")
    return redirect("/about#keeping", code=303)
