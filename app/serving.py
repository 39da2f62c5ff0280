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
from app.services import accounts
from app.services.backup import keep_aside
from app.services.shelf import fill_demo
from app.store.opening import Store, open_store

PASSWORD_VARIABLE = "SWARDWRIGHT_PASSWORD_HASH"
_THREADS = 8
# The app refuses a body over 1 MiB in its own words; one larger than this is refused before it is read.
_MOST_BYTES_READ = 16 * 1024 * 1024


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
    names = {host}
    if not is_loopback(host):
        names.add(socket.gethostname())
    if is_loopback(host) or _is_every_address(host):
        names |= {"127.0.0.1", "localhost", "::1"}
    if _is_every_address(host):
        names |= _own_addresses()
    shown = {_in_address(name) for name in names}
    return frozenset({f"{name}:{port}" for name in shown} | (shown if port == 80 else set()))


def _is_every_address(host: str) -> bool:
    try:
        return ipaddress.ip_address(host.strip("[]")).is_unspecified
    except ValueError:
        return False


def _in_address(host: str) -> str:
    """A host as it stands in an address: IPv6 in brackets."""
    bare = host.strip("[]")
    return f"[{bare}]" if ":" in bare else bare


def _own_addresses() -> set[str]:
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, type=socket.SOCK_STREAM)
    except OSError:
        # A machine that does not find itself by name is still answered by its name and on loopback.
        return set()
    return {str(item[4][0]) for item in found}


def serve(host: str, port: int, *, data: Path | None, demo: bool, open_browser: bool) -> int:
    """Serve until interrupted.

    Raises
    ------
    InputError
        When the address is not loopback and no usable password is set, or cannot be listened on.
    """
    if not 1 <= port <= 65535:
        raise InputError([FieldFault("--port", f"{port} is no port; use 1 to 65535")])
    password_hash = os.environ.get(PASSWORD_VARIABLE) or None
    if password_hash is not None and password_hash.count("$") != 2:
        what = "holds no hash; set it to what 'swardwright password --print' prints, in single quotes"
        raise InputError([FieldFault(PASSWORD_VARIABLE, what)])
    try:
        socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise InputError([FieldFault("--host", f"'{host}' is no address of this machine; use 127.0.0.1")]) from error
    store = open_store(data, demo=demo, before_migration=keep_aside)
    try:
        if not is_loopback(host) and password_hash is None and accounts.kept_hash(store) is None:
            how = f"set one with 'swardwright password' (or {PASSWORD_VARIABLE}) or use 127.0.0.1"
            what = f"{host} is reached from other machines and no password is set; {how}"
            raise InputError([FieldFault("--host", what)])
        if demo:
            # Not above: every start would wait for the libraries of the analysis.
            from app.services import branch_demo, trials

            fill_demo(store)
            trials.fill_demo(store)
            branch_demo.fill_demo(store)
        _listen(host, port, password_hash, store=store, demo=demo, open_browser=open_browser)
    finally:
        store.close()
    return 0


def _listen(host: str, port: int, password_hash: str | None, *, store: Store, demo: bool, open_browser: bool) -> None:
    from waitress.server import create_server

    from app.services.knowledge_service import knowledge_base
    from app.web import create_app

    knowledge_base()
    application = create_app(
        allowed_hosts=allowed_hosts(host, port),
        password_hash=password_hash,
        needs_password=not is_loopback(host),
        store=store,
        demo=demo,
    )
    try:
        server = create_server(
            application,
            host=host,
            port=port,
            threads=_THREADS,
            ident=None,
            clear_untrusted_proxy_headers=True,
            max_request_body_size=_MOST_BYTES_READ,
        )
    except OSError as error:
        raise InputError([FieldFault("--port", f"{host}:{port} cannot be listened on: {error.strerror}")]) from error
    named = _in_address(socket.gethostname() if _is_every_address(host) else host)
    address = f"http://{named}:{port}/"
    opening = ", opening with an example question filled in and an example shelf, trials and branch" if demo else ""
    sys.stdout.write(f"Swardwright answers at {address}{opening} (stop with Ctrl-C)\n")
    sys.stdout.flush()
    if open_browser:
        webbrowser.open(address)
    try:
        server.run()
    finally:
        server.close()


def ask_password() -> str:
    """Ask twice for a password.

    Raises
    ------
    InputError
        When it is too short or too long, the two differ, or nobody can be asked.
    """
    try:
        first, again = getpass.getpass("Password: "), getpass.getpass("Again: ")
    except EOFError as error:
        raise InputError([FieldFault("password", "was not typed; type it twice at a terminal")]) from error
    accounts.checked_password(first)
    if again != first:
        raise InputError([FieldFault("password", "the two differ; type the same one twice")])
    return first
