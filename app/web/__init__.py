"""The pages: rendered on the server, working without script, better with it."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module

from flask import Flask
from jinja2 import StrictUndefined

from app.services.accounts import epoch_of, signing_key
from app.store.opening import Store, open_in_memory
from app.web.security import csrf, guard

MAX_BODY_BYTES = 1024 * 1024
# Files of this folder that hold pages, and those of `app/api/` that hold calls; each names its `blueprint`.
PLACES = (
    "doors",
    "about",
    "pages",
    "survey",
    "growth",
    "shelf",
    "shelf_files",
    "mix_card",
    "sprayers",
    "side_by_side",
    "trials",
    "trial_files",
    "trial_rate",
    "trial_synthesis",
    "properties",
    "property_files",
    "scouting",
    "customers",
    "branch",
    "branch_year",
    "weather",
    "rounds",
    "round_sheets",
    "year",
    "year_edit",
    "record",
    "record_follow_up",
    "year_papers",
)
CALLS = (
    "growth",
    "mixing",
    "shelf",
    "trials",
    "properties",
    "weather",
    "records",
    "rounds",
    "year",
    "years",
    "year_jobs",
)


@dataclass(frozen=True)
class Setting:
    """How this app was started."""

    allowed_hosts: frozenset[str]
    password_hash: str | None
    needs_password: bool
    demo: bool


def create_app(
    *,
    allowed_hosts: frozenset[str],
    password_hash: str | None = None,
    needs_password: bool = False,
    demo: bool = False,
    testing: bool = False,
    store: Store | None = None,
) -> Flask:
    """The web app with its pages and the JSON API.

    Parameters
    ----------
    allowed_hosts : frozenset of str
        Values of the Host header that are answered.
    password_hash : str, optional
        Where it is set, every page and call asks for the password; so they do where one is kept in the store.
    needs_password : bool
        Whether others than this machine reach it: then it answers nothing while no password is set.
    store : Store, optional
        Where shelf, sprayers and settings are kept; in memory where none is given.
    """
    application = Flask(__name__)
    application.extensions["store"] = store = store if store is not None else open_in_memory()
    key = signing_key(store)
    application.config.update(
        MAX_CONTENT_LENGTH=MAX_BODY_BYTES,
        SECRET_KEY=key,
        # Browsers send cookies to every port of a host: two apps beside each other must not spoil each other's.
        SESSION_COOKIE_NAME=f"swardwright-{epoch_of(key)}",
        WTF_CSRF_TIME_LIMIT=None,
        # Its token lives as long as the browser's session; tests of other things send forms without it.
        WTF_CSRF_ENABLED=not testing,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        TESTING=testing,
        SETTING=Setting(allowed_hosts, password_hash, needs_password, demo),
    )
    application.json.sort_keys = False  # type: ignore[attr-defined]
    application.jinja_env.undefined = StrictUndefined
    application.jinja_env.trim_blocks = True
    application.jinja_env.lstrip_blocks = True
    guard(application)
    for place in PLACES:
        application.register_blueprint(import_module(f"app.web.{place}").blueprint)
    # Every file of calls puts them on the same blueprint.
    api, *others = (import_module(f"app.api.{calls}").blueprint for calls in CALLS)
    assert all(other is api for other in others)
    application.register_blueprint(api)
    # The API takes JSON alone and checks where a request comes from; a page elsewhere cannot send it a form.
    csrf.exempt(api)
    return application
