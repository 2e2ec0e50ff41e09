"""The kinds of long work. Each is registered by the room that knows how it is done, when the program starts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from distillery.jobs.progress import Progress


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of long work.

    `do` is given the progress of a job, from which it reads the arguments and to which it says how far it has come. It
    gives what its result, written to `progress.path`, is to be called, or '' where there is none. It may be killed at
    any point and begun again, so doing it twice must come to the same as doing it once. `begun_again` says in a
    """

    code: str
    name: str
    do: Callable[[Progress], str]
    begun_again: str


_kinds: dict[str, Kind] = {}


class UnknownKind(LookupError):
    """No room of this program has registered such a kind: the job was asked for by another version."""

    def __init__(self, code: str) -> None:
        super().__init__(f"This version of the program knows no long work called '{code}'.")


def register(kind: Kind) -> None:
    """Makes a kind known. Raises ValueError where another has its code."""
    if _kinds.get(kind.code, kind) != kind:
        raise ValueError(f"There are two kinds of long work called '{kind.code}'")
    _kinds[kind.code] = kind


def kind_of(code: str) -> Kind:
    """The kind with this code. Raises UnknownKind."""
    try:
        return _kinds[code]
    except KeyError:
        raise UnknownKind(code) from None


def name_of(code: str) -> str:
    """What a kind is called on a page; its code where this version does not know it."""
    kind = _kinds.get(code)
    return kind.name if kind is not None else code.capitalize()
