"""Where the store lies; told without opening it, so that a question which needs no database loads none."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_data_path

FOLDER_VARIABLE = "SWARDWRIGHT_DATA"
DATABASE_VARIABLE = "SWARDWRIGHT_DATABASE_URL"
FILE_NAME = "swardwright.sqlite"


def data_folder(data: Path | None = None, *, demo: bool = False) -> Path:
    """The folder chosen, else the environment's, else the platform's; the demo has one of its own beside it."""
    if data is not None:
        return data
    told = os.environ.get(FOLDER_VARIABLE)
    usual = Path(told) if told else user_data_path("swardwright", appauthor=False)
    return usual.with_name(f"{usual.name}-demo") if demo else usual


def something_kept(data: Path | None = None) -> bool:
    """Whether there is a store to look into; asking creates none and opens none."""
    if data is None and os.environ.get(DATABASE_VARIABLE):
        return True
    return (data_folder(data) / FILE_NAME).exists()
