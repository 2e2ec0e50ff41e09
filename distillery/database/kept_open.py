"""Connections to the database that stay open from one request to the next, and with them what is prepared on them.

Opening one takes as long as a tenth of a page. Where a copy was put back meanwhile, the file of a database of SQLite is
another one under the same name: what is open to the old one is let go before a request is answered.
"""

from __future__ import annotations

import os
from typing import Any
from weakref import WeakKeyDictionary

from django.core.signals import request_started
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.signals import connection_created

_opened: WeakKeyDictionary[BaseDatabaseWrapper, tuple[int, int] | None] = WeakKeyDictionary()


def watch() -> None:
    """From now on the file of a connection that is kept open is looked at before each request."""
    connection_created.connect(_note, dispatch_uid="which file was opened")
    request_started.connect(_look, dispatch_uid="whether it is still that file")


def _file(opened: BaseDatabaseWrapper) -> tuple[int, int] | None:
    """Device and number of the file of a database of SQLite; None where there is none."""
    try:
        there = os.stat(opened.settings_dict["NAME"])
    except OSError:
        return None
    return there.st_dev, there.st_ino


def _note(connection: BaseDatabaseWrapper, **signal: Any) -> None:
    if connection.vendor == "sqlite":
        _opened[connection] = _file(connection)


def _look(**signal: Any) -> None:
    opened = connections[DEFAULT_DB_ALIAS]
    kept = opened.connection is not None and not opened.in_atomic_block and opened in _opened
    if kept and _file(opened) != _opened[opened]:
        opened.close()
