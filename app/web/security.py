"""Safe by default: who may ask, from where, and what a page may load."""

from __future__ import annotations

import time
from collections import deque
from urllib.parse import urlencode, urlsplit

from flask import Flask, Response, abort, current_app, redirect, request, session
from werkzeug.security import check_password_hash

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
OPEN_ENDPOINTS = ("pages.login", "pages.log_in", "static")
MOST_FAILURES, FAILURE_SECONDS = 5, 300.0
SESSION_SECONDS = 12 * 3600.0


class FailedAttempts:
    """Failed passwords of the last minutes, over all visitors: a local app has few."""

    def __init__(self) -> None:
        self._times: deque[float] = deque()

    def too_many(self) -> bool:
        """Whether the next attempt has to wait."""
        now = time.monotonic()
        while self._times and now - self._times[0] > FAILURE_SECONDS:
            self._times.popleft()
        return len(self._times) >= MOST_FAILURES

    def note(self) -> None:
        """Count one failure."""
        self._times.append(time.monotonic())


def guard(application: Flask) -> None:
    """Put every check before, and every header after, each request."""
    application.extensions["failed_attempts"] = FailedAttempts()
    application.before_request(_known_host)
    application.before_request(_same_origin)
    application.before_request(_password)
    application.after_request(_headers)


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


def _password() -> Response | None:
    if current_app.config["SETTING"].password_hash is None or request.endpoint in OPEN_ENDPOINTS:
        return None
    since = session.get("since")
    if isinstance(since, float) and time.time() - since < SESSION_SECONDS:
        return None
    if request.blueprint == "api":
        abort(401, description="Log in first.")
    wanted = request.full_path.rstrip("?") if request.method in SAFE_METHODS else "/"
    asked = "" if wanted == "/" else "?" + urlencode({"back": wanted})
    return redirect(f"/login{asked}")  # type: ignore[return-value]


def try_password(password: str) -> str | None:
    """Log in; the sentence to show where it fails, or None."""
    attempts: FailedAttempts = current_app.extensions["failed_attempts"]
    if attempts.too_many():
        return f"too many failed attempts; wait {FAILURE_SECONDS / 60:.0f} minutes"
    expected = current_app.config["SETTING"].password_hash
    if expected is None or not check_password_hash(expected, password):
        attempts.note()
        return "this is not the password"
    session.clear()
    session["since"] = time.time()
    return None


def _headers(response: Response) -> Response:
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "same-origin"
    response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    response.headers["X-Frame-Options"] = "DENY"
    if request.endpoint != "static":
        response.headers["Cache-Control"] = "no-store"
    return response
