"""Commands around what is kept: the data folder, backup and restore."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli.shared import add_command, print_text
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
    backup.add_argument("file", type=Path, metavar="FILE", help="the archive to write")
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
    restore.add_argument("file", type=Path, metavar="FILE", help="the archive to read")
    data_option(restore)
    restore.set_defaults(run=run_restore)


def run_backup(arguments: argparse.Namespace) -> int:
    """Write the archive."""
    from app.services.backup import write_backup

    with store_of(arguments) as store:
        write_backup(store, arguments.file, datetime.now(UTC))
    return print_text(f"Everything that is kept was written to {arguments.file}.\n")


def run_restore(arguments: argparse.Namespace) -> int:
    """Read the archive back."""
    from app.services.backup import restore_backup

    try:
        data = arguments.file.read_bytes()
    except OSError as error:
        what = f"{arguments.file} cannot be read: {error.strerror or error}"
        raise InputError([FieldFault("backup", what)]) from error
    with store_of(arguments) as store:
        counts, before = restore_backup(store, data, datetime.now(UTC))
    told = ", ".join(f"{count} in {name}" for name, count in counts.items())
    return print_text(f"Restored: {told}. What was kept before is in {before}.\n")
