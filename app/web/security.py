"""Safe by default: who may ask, from where, and what a page may load."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from urllib.parse import urlencode, urlsplit

from flask import Flask, Response, abort, current_app, g, redirect, request, session
from flask_wtf.csrf import CSRFProtect

from app.services import accounts
from app.store.opening import Store

POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
OPEN_ENDPOINTS = ("doors.login", "doors.log_in", "static")
FILE_PATHS = ("/shelf/import", "/api/v1/shelf/import", "/restore", "/trials/import", "/properties/import")
# Everything below it may hold a trial with its plots.
TRIAL_CALLS = "/api/v1/trials/"
# A file of the shelf or an archive at its largest, and what a form or JSON puts around it.
MOST_FILE_BYTES = 12 * 1024 * 1024
SESSION_SECONDS = 12 * 3600.0
IDLE_SECONDS = 2 * 3600.0
STALE_FORM = (
    "This form was open too long, or was not sent from a page of ours; go back, load the page again and send it "
    "once more. Nothing was stored."
)
csrf = CSRFProtect()


def guard(application: Flask) -> None:
    """Put every check before, and every header after, each request."""
    # First of all: the form's token is read from the body, which has to fit by then.
    application.before_request(_room_for_files)
    csrf.init_app(application)
    application.before_request(_known_host)
    application.before_request(_same_origin)
    application.before_request(_password)
    application.after_request(_headers)


def _room_for_files() -> None:
    """A file of the shelf or of plots may be larger than any other request."""
    if request.path in FILE_PATHS or request.path.startswith(TRIAL_CALLS):
        request.max_content_length = MOST_FILE_BYTES


def own_path(path: str) -> str:
    """The path where it is one of our own, else the first page.

    Another host after two slashes, a scheme, or a character that browsers drop would lead away.
    """
    ours = path.startswith("/") and not path.startswith("//") and "\\" not in path and path.isprintable()
    return path if ours else "/"


def _known_host() -> None:
    if request.host not in current_app.config["SETTING"].allowed_hosts:
        abort(400, description="This app answers only at the address it was started with.")


def _same_origin() -> None:
    if request.method in SAFE_METHODS:
        return
    told = request.headers.get("Origin") or request.headers.get("Referer")
    # Programs such as curl send neither; a browser always sends one with a form.
    if told is not None and urlsplit(told).netloc != request.host:
        abort(400, description="This request comes from another page than ours.")
    if told is None and request.headers.get("Sec-Fetch-Site") not in (None, "same-origin", "none"):
        abort(400, description="This request comes from another page than ours.")


def here() -> Store:
    """The store of this app."""
    store: Store = current_app.extensions["store"]
    return store


def password_hash() -> str | None:
    """What the password is held against: the one this app was started with, else the one kept."""
    told: str | None = current_app.config["SETTING"].password_hash
    return told if told is not None else accounts.kept_hash(here())


def _password() -> Response | None:
    if request.endpoint in OPEN_ENDPOINTS:
        return None
    hashed = password_hash()
    if hashed is None and current_app.config["SETTING"].needs_password:
        # It was forgotten while others reach this app: better closed than open.
        abort(403, description="No password is set any more; set one with 'swardwright password', then log in again.")
    if hashed is None:
        return None
    if _logged_in(hashed):
        g.logged_in = True
        return None
    if request.blueprint == "api":
        abort(401, description="Log in first.")
    wanted = request.full_path.rstrip("?") if request.method in SAFE_METHODS else "/"
    asked = "" if wanted == "/" else "?" + urlencode({"back": wanted})
    return redirect(f"/login{asked}")  # type: ignore[return-value]


def _logged_in(hashed: str) -> bool:
    """Whether this browser logged in with this password, not too long ago, and was seen since."""
    since, seen, now = session.get("since"), session.get("seen"), time.time()
    if not (isinstance(since, float) and isinstance(seen, float)) or session.get("epoch") != accounts.epoch_of(hashed):
        return False
    if not (0 <= now - since < SESSION_SECONDS and 0 <= now - seen < IDLE_SECONDS):
        return False
    session["seen"] = now
    return True


def log_in(password: str) -> str | None:
    """Log in; the sentence to show where it fails, or None."""
    hashed = password_hash()
    if hashed is None:
        return "no password is set here"
    fault = accounts.try_password(here(), hashed, password, datetime.now(UTC))
    if fault is None:
        session.clear()
        session.update(since=time.time(), seen=time.time(), epoch=accounts.epoch_of(hashed))
    return fault


def log_out() -> None:
    """End this log-in."""
    session.clear()


def _headers(response: Response) -> Response:
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "same-origin"
    response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    response.headers["X-Frame-Options"] = "DENY"
    if request.endpoint != "static":
        # A view that lets the browser keep what it answered says so itself.
        response.headers.setdefault("Cache-Control", "no-store")
    return response
