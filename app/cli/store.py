"""Commands around what is kept: the data folder, backup and restore."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli.shared import ANSWERED, add_command, print_text
from app.engine.errors import FieldFault, InputError

if TYPE_CHECKING:
    from app.store.opening import Store


def data_option(command: Any) -> None:
    """Adds `--data`, which says where the shelf is kept."""
    command.add_argument(
        "--data", type=Path, default=None, metavar="DIR", help="folder of your own data (default: the platform's)"
    )


@contextmanager
def store_of(arguments: argparse.Namespace) -> Iterator[Store]:
    """The store that a command was told to use."""
    from app.services.backup import keep_aside
    from app.store.opening import open_store

    store = open_store(arguments.data, before_migration=keep_aside)
    try:
        yield store
    finally:
        store.close()


def backup_commands(commands: Any) -> None:
    """Adds `backup` and `restore`."""
    backup = add_command(
        commands,
        "backup",
        "write everything that is kept into one archive",
        "swardwright backup shelf-in-march.zip",
        "",
        "The password and the key of the log-ins are not in it.",
    )
    backup.add_argument("file", type=Path, metavar="FILE", help="the archive to write (- for standard output)")
    data_option(backup)
    backup.set_defaults(run=run_backup)
    restore = add_command(
        commands,
        "restore",
        "replace everything that is kept by what an archive holds",
        "swardwright restore shelf-in-march.zip",
        "",
        "What is kept now is written to the folder of backups first; a damaged or newer archive changes nothing.",
    )
    restore.add_argument("file", type=Path, metavar="FILE", help="the archive to read (- for standard input)")
    data_option(restore)
    restore.set_defaults(run=run_restore)


def run_backup(arguments: argparse.Namespace) -> int:
    """Write the archive."""
    from app.services.backup import archive_of, write_backup

    now = datetime.now(UTC)
    with store_of(arguments) as store:
        if str(arguments.file) == "-":
            sys.stdout.buffer.write(archive_of(store, now))
            return ANSWERED
        write_backup(store, arguments.file, now)
    return print_text(f"Everything that is kept was written to {arguments.file}.\n")


def run_restore(arguments: argparse.Namespace) -> int:
    """Read the archive back."""
    from app.services.backup import counted, restore_backup
    from app.store.archive import MOST_BYTES

    data = _read(arguments.file, MOST_BYTES)
    with store_of(arguments) as store:
        counts, before = restore_backup(store, data, datetime.now(UTC))
    return print_text(f"Restored {counted(counts)}. What was kept before is in {before}.\n")


def _read(path: Path, most: int) -> bytes:
    """The file, or one byte more than is taken, which tells that it is too large."""
    if str(path) == "-":
        return sys.stdin.buffer.read(most + 1)
    try:
        with path.open("rb") as file:
            return file.read(most + 1)
    except OSError as error:
        raise InputError([FieldFault("backup", f"{path} cannot be read: {error.strerror or error}")]) from error
