"""Coming in and going out: the password."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from app.web import security
from app.web.security import own_path, password_hash

blueprint = Blueprint("doors", __name__)


@blueprint.get("/login")
def login() -> str | Response:
    """The password."""
    if password_hash() is None:
        return redirect("/")
    return render_template("login.html", fault=None, back=own_path(request.args.get("back", "/")))


@blueprint.post("/login")
def log_in() -> Response | tuple[str, int]:
    """Check the password."""
    back = own_path(request.form.get("back", "/"))
    fault = security.log_in(request.form.get("password", ""))
    if fault is not None:
        return render_template("login.html", fault=fault, back=back), 422
    return redirect(back, code=303)


@blueprint.post("/logout")
def log_out() -> Response:
    """End this log-in."""
    security.log_out()
    return redirect("/login", code=303)
