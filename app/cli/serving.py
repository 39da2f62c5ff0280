"""Commands that start the web app and make its password."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from app.cli.shared import add_command, print_text, whole_number

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
    serve.add_argument("--demo", action="store_true", help="open with an example question filled in")
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
        "make the hash that listening beyond this machine requires",
        'export SWARDWRIGHT_PASSWORD_HASH="$(swardwright password)"',
        "swardwright serve --host 192.168.1.20",
        "",
        "It asks twice and prints the hash; written by hand, put it in single quotes.",
    )
    password.set_defaults(run=run_password)


def run_serve(arguments: argparse.Namespace) -> int:
    """Start the web app."""
    from app.serving import serve

    return serve(arguments.host, arguments.port, data=arguments.data, demo=arguments.demo, open_browser=arguments.open)


def run_password(_: argparse.Namespace) -> int:
    """Ask for a password twice and print its hash."""
    from app.serving import make_password_hash

    return print_text(make_password_hash() + "\n")
