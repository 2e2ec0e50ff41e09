"""What the name bar says of copies: how old the newest is, and whether somebody should look."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.db import connection
from django.utils import timezone

from distillery.copies.keeping import newest
from distillery.copies.places import copies_in, second_place
from distillery.copies.room import short_of_room
from distillery.pages import LOOK, State
from distillery.seals.models import BooksSeal

TOO_OLD: Final = timedelta(hours=48)
# Folders and disks are looked at no more often than this, however many pages are asked for.
LOOK_AGAIN_S: Final = 60.0


@dataclass(frozen=True, slots=True)
class CopiesSaid:
    """A few words for the name bar, their state where somebody should look, and what is wrong in whole sentences."""

    text: str
    state: State | None
    sentences: tuple[str, ...]


_seen: list[tuple[float, CopiesSaid | None]] = []


def copies_said() -> CopiesSaid | None:
    """What to say; None where this server keeps no copies, or there is nothing to copy yet."""
    if not settings.SAYS_COPIES:
        return None
    if not _seen or time.monotonic() - _seen[0][0] > LOOK_AGAIN_S:
        _seen[:] = [(time.monotonic(), said_now(timezone.now()))]
    return _seen[0][1]


def forget() -> None:
    """Looks anew the next time: a copy was taken."""
    _seen.clear()


def said_now(now: datetime) -> CopiesSaid | None:
    """The same, looked at now."""
    last = newest(connection)
    wrong = list(short_of_room(connection))
    if last is None:
        first = BooksSeal.objects.order_by("number").values_list("made_at", flat=True).first()
        if first is None:
            return None
        if now - first > TOO_OLD:
            wrong.insert(0, "The books were never copied. Look at what the console of the server says.")
        return CopiesSaid("Not copied yet", LOOK if wrong else None, tuple(wrong))
    if now - last.at > TOO_OLD:
        wrong.insert(0, "The newest copy is more than 48 h old. Look at what the console of the server says.")
    second = second_place()
    if second is not None and not wrong:
        wrong += _second_wrong(last.at)
    return CopiesSaid(f"Copied {age(now - last.at)} ago", LOOK if wrong else None, tuple(wrong))


def age(span: timedelta) -> str:
    """An age in words short enough for the name bar: minutes, hours, from two days on days."""
    minutes = max(0, int(span.total_seconds() // 60))
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 48 * 60 else f"{minutes // 1440} days"


def _second_wrong(first: datetime) -> list[str]:
    second = second_place()
    try:
        there = copies_in(second) if second is not None else []
    except OSError:
        there = []
    if there and first - there[0].at < TOO_OLD:
        return []
    return [f"No copy of these days is in the second place, {second}: is its disk there?"]
