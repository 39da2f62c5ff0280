"""An app answering on loopback, started for a test and stopped without leaving a thread behind."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from waitress import wasyncore
from waitress.server import create_server

from app.store.opening import Store
from app.web import create_app

# [s]
_STOPPED_WITHIN = 20


@contextmanager
def serving(store: Store, *, demo: bool = False) -> Iterator[str]:
    """Address [http://host:port] of the app over a store, its forms guarded as they are in use."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    application = create_app(allowed_hosts=frozenset({f"127.0.0.1:{port}"}), store=store, demo=demo)
    server = create_server(application, host="127.0.0.1", port=port, threads=4)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        # A request may still be answered when the test ends. Its sockets are the loop's, which closes them itself,
        # after the threads that answer; closed from here they would be used once more by both.
        server.task_dispatcher.shutdown(timeout=_STOPPED_WITHIN)
        server.trigger.pull_trigger(lambda: wasyncore.close_all(server._map, ignore_all=True))
        thread.join(_STOPPED_WITHIN)
        assert not thread.is_alive(), "the server did not stop"
