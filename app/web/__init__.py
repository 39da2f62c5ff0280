"""The pages: rendered on the server, working without script, better with it."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Flask
from jinja2 import StrictUndefined

from app.services.accounts import epoch_of, signing_key
from app.store.opening import Store, open_in_memory
from app.web.security import csrf, guard

MAX_BODY_BYTES = 1024 * 1024


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
    from app.api import mixing as mixing_calls
    from app.api import shelf as shelf_calls
    from app.api import trials as trial_calls
    from app.api import weather as weather_calls
    from app.web.about import blueprint as about
    from app.web.branch import blueprint as branch
    from app.web.customers import blueprint as customers
    from app.web.doors import blueprint as doors
    from app.web.mix_card import blueprint as mix_card
    from app.web.pages import blueprint as pages
    from app.web.properties import blueprint as properties
    from app.web.scouting import blueprint as scouting
    from app.web.shelf import blueprint as shelf
    from app.web.shelf_files import blueprint as shelf_files
    from app.web.side_by_side import blueprint as side_by_side
    from app.web.sprayers import blueprint as sprayers
    from app.web.survey import blueprint as survey
    from app.web.trial_files import blueprint as trial_files
    from app.web.trial_rate import blueprint as trial_rate
    from app.web.trial_synthesis import blueprint as trial_synthesis
    from app.web.trials import blueprint as trials
    from app.web.weather import blueprint as weather

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
    application.register_blueprint(doors)
    application.register_blueprint(about)
    application.register_blueprint(pages)
    application.register_blueprint(survey)
    application.register_blueprint(shelf)
    application.register_blueprint(shelf_files)
    application.register_blueprint(mix_card)
    application.register_blueprint(sprayers)
    application.register_blueprint(side_by_side)
    application.register_blueprint(trials)
    application.register_blueprint(trial_files)
    application.register_blueprint(trial_rate)
    application.register_blueprint(trial_synthesis)
    application.register_blueprint(properties)
    application.register_blueprint(scouting)
    application.register_blueprint(customers)
    application.register_blueprint(branch)
    application.register_blueprint(weather)
    # Every file of calls puts them on the same blueprint.
    api = shelf_calls.blueprint
    assert mixing_calls.blueprint is trial_calls.blueprint is weather_calls.blueprint is api
    application.register_blueprint(api)
    # The API takes JSON alone and checks where a request comes from; a page elsewhere cannot send it a form.
    csrf.exempt(api)
    return application
