"""Serving the web app: on this machine alone, unless a password is set."""

from __future__ import annotations

import getpass
import ipaddress
import os
import socket
import sys
import webbrowser
from pathlib import Path

from app.engine.errors import FieldFault, InputError

PASSWORD_VARIABLE = "SWARDWRIGHT_PASSWORD_HASH"
SHORTEST_PASSWORD = 10
_THREADS = 8


def is_loopback(host: str) -> bool:
    """Whether an address is reached from this machine alone."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def allowed_hosts(host: str, port: int) -> frozenset[str]:
    """Values of the Host header that are answered."""
    names = {host, "127.0.0.1", "localhost", "[::1]"} if is_loopback(host) else {host, socket.gethostname()}
    return frozenset({f"{name}:{port}" for name in names} | (names if port == 80 else set()))


def serve(host: str, port: int, *, data: Path | None, demo: bool, open_browser: bool) -> int:
    """Serve until interrupted.

    Raises
    ------
    InputError
        When the address is not loopback and no password is set, or cannot be listened on.
    """
    if not 1 <= port <= 65535:
        raise InputError([FieldFault("--port", f"{port} is no port; use 1 to 65535")])
    password_hash = os.environ.get(PASSWORD_VARIABLE) or None
    if not is_loopback(host) and password_hash is None:
        how = f"set {PASSWORD_VARIABLE} (see 'swardwright password') or use 127.0.0.1"
        what = f"{host} is reached from other machines; {how}"
        raise InputError([FieldFault("--host", what)])
    if data is not None and not data.is_dir():
        raise InputError([FieldFault("--data", f"{data} is no folder")])
    _listen(host, port, password_hash, data=data, demo=demo, open_browser=open_browser)
    return 0


def _listen(
    host: str, port: int, password_hash: str | None, *, data: Path | None, demo: bool, open_browser: bool
) -> None:
    from waitress.server import create_server

    from app.services.knowledge_service import knowledge_base
    from app.web import create_app

    knowledge_base()
    application = create_app(
        allowed_hosts=allowed_hosts(host, port), password_hash=password_hash, data_folder=data, demo=demo
    )
    try:
        server = create_server(
            application, host=host, port=port, threads=_THREADS, ident=None, clear_untrusted_proxy_headers=True
        )
    except OSError as error:
        raise InputError([FieldFault("--port", f"{host}:{port} cannot be listened on: {error.strerror}")]) from error
    shown = f"[{host}]" if ":" in host else host
    address = f"http://{shown}:{port}/"
    sys.stdout.write(f"Swardwright answers at {address} (stop with Ctrl-C)\n")
    sys.stdout.flush()
    if open_browser:
        webbrowser.open(address)
    try:
        server.run()
    finally:
        server.close()


def make_password_hash() -> str:
    """Ask twice for a password and hash it.

    Raises
    ------
    InputError
        When it is too short or the two differ.
    """
    from werkzeug.security import generate_password_hash

    first = getpass.getpass("Password: ")
    if len(first) < SHORTEST_PASSWORD:
        raise InputError([FieldFault("password", f"must have at least {SHORTEST_PASSWORD} characters")])
    if getpass.getpass("Again: ") != first:
        raise InputError([FieldFault("password", "the two differ")])
    return generate_password_hash(first)
