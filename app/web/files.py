"""Files that a page hands out."""

from __future__ import annotations

from flask import Response


def csv_answer(text: str, name: str) -> Response:
    """A file for spreadsheets under a name."""
    # The mark at the start tells spreadsheets that it is UTF-8.
    answered = Response(text.encode("utf-8-sig"), mimetype="text/csv")
    answered.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answered
