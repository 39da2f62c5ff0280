"""Commands that start the web app and make its password."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from app.cli.shared import add_command, print_text, whole_number
from app.cli.store import data_option, store_of

DEFAULT_HOST, DEFAULT_PORT = "127.0.0.1", 8137


def serve_command(commands: Any) -> None:
    serve = add_command(
        commands,
        "serve",
        "start the web app on this machine",
        "swardwright serve --demo",
        "swardwright serve --port 9000 --open",
        "",
        "Another address than loopback needs a password: see 'swardwright password'.",
    )
    serve.add_argument("--demo", action="store_true", help="open with an example question, shelf, trials and branch")
    serve.add_argument(
        "--host", default=DEFAULT_HOST, help="address to listen on (another than loopback needs a password)"
    )
    serve.add_argument(
        "--port", type=whole_number, default=DEFAULT_PORT, help=f"port to listen on (default {DEFAULT_PORT})"
    )
    serve.add_argument("--data", type=Path, default=None, help="folder for your own data")
    serve.add_argument("--open", action="store_true", help="open a browser")
    serve.set_defaults(run=run_serve)
    password = add_command(
        commands,
        "password",
        "set the password that listening beyond this machine requires",
        "swardwright password",
        "swardwright serve --host 192.168.1.20",
        'export SWARDWRIGHT_PASSWORD_HASH="$(swardwright password --print)"',
        "",
        "It asks twice. Where a password is set every page asks for it, on this machine too, and every log-in",
        "made with the former one ends. A hash in the environment comes before the one that is kept; written by",
        "hand, put it in single quotes.",
    )
    password.add_argument("--print", action="store_true", dest="only_print", help="print a hash and keep nothing")
    password.add_argument("--remove", action="store_true", help="forget the password")
    data_option(password)
    password.set_defaults(run=run_password)


def run_serve(arguments: argparse.Namespace) -> int:
    """Start the web app."""
    from app.serving import serve

    return serve(arguments.host, arguments.port, data=arguments.data, demo=arguments.demo, open_browser=arguments.open)


def run_password(arguments: argparse.Namespace) -> int:
    """Ask for a password twice, and keep it or print its hash."""
    from app.services import accounts
    from app.serving import ask_password

    if arguments.only_print:
        return print_text(accounts.hash_of(ask_password()) + "\n")
    if arguments.remove:
        with store_of(arguments) as store:
            accounts.remove_password(store)
        return print_text("The password was forgotten; the app listens on this machine alone.\n")
    password = ask_password()
    with store_of(arguments) as store:
        accounts.set_password(store, password)
    return print_text("The password was kept; log-ins made with a former one have ended.\n")
