"""Where the program lies, and where it keeps what belongs to the site.

A checkout has pages and the demonstration's tables beside `manage.py` and keeps the site's data in `.site/`. An
installed program carries both inside this package, and keeps the site's data in the folder that GAUGEBOOK_FOLDER names,
else in the user's own data folder. This module stands on the standard library alone, since the settings begin with it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Final

FOLDER_SETTING: Final = "GAUGEBOOK_FOLDER"
PROGRAM: Final = Path(__file__).resolve().parents[2]
MANAGE: Final = PROGRAM / "manage.py"
IS_CHECKOUT: Final = MANAGE.is_file()
# Building a wheel puts templates and fixtures here (.ci/into_the_wheel.py).
_WITH_IT: Final = PROGRAM if IS_CHECKOUT else PROGRAM / "distillery" / "carried"
TEMPLATES: Final = _WITH_IT / "templates"
FIXTURES: Final = _WITH_IT / "fixtures"


def site_folder(given: Mapping[str, str]) -> Path:
    """The folder of the site's data by these variables of the environment; it may not be there yet."""
    if given.get(FOLDER_SETTING, "").strip():
        return Path(given[FOLDER_SETTING].strip()).expanduser().absolute()
    return PROGRAM / ".site" if IS_CHECKOUT else _data_of_user(given) / "gaugebook"


def own_command(*words: str) -> list[str]:
    """How a process of the program itself is started: one of its commands, with what follows it."""
    how = [str(MANAGE)] if IS_CHECKOUT else ["-m", "distillery"]
    return [sys.executable, *how, *words]


def as_typed() -> str:
    """What a person types before the name of a command."""
    return "manage.py" if IS_CHECKOUT else "gaugebook"


def _data_of_user(given: Mapping[str, str]) -> Path:
    if sys.platform == "win32":
        return Path(given.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support"
    # XDG Base Directory Specification: a path that is not absolute is passed over.
    named = given.get("XDG_DATA_HOME", "")
    return Path(named) if os.path.isabs(named) else Path.home() / ".local" / "share"
