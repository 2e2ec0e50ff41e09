"""What was put on paper while something was being printed: each document with its digest, and of what parts it is.

Whoever wants to know opens `noted`; the blocks of print and the digest tell it, and nobody else has to. With
`on_paper` off the document is worked out as far as its digest and then let be, so that a digest from paper is compared
without drawing a page.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

PART_FIGURES = 16


class NotDrawn(Exception):
    """All documents are known by their digests, and no page is wanted."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One document as it went on paper. `parts`: of each named part the first figures of its own digest."""

    document: str
    number: str
    version: int
    digest: str
    parts: Mapping[str, str]


@dataclass(slots=True)
class Notes:
    """What one piece of printing made."""

    on_paper: bool = True
    sheets: list[Sheet] = field(default_factory=list)
    parts: dict[str, dict[str, str]] = field(default_factory=dict)


_open: ContextVar[Notes | None] = ContextVar("prints", default=None)


@contextmanager
def noted(*, on_paper: bool = True) -> Iterator[Notes]:
    """Notes every document that is printed inside it. Without `on_paper`, printing one raises NotDrawn."""
    notes = Notes(on_paper)
    token = _open.set(notes)
    try:
        yield notes
    finally:
        _open.reset(token)


def note_parts(digest: str, plain: object) -> None:
    """Keeps of what parts the plain data behind a digest are, where somebody wants to know."""
    notes = _open.get()
    if notes is not None and isinstance(plain, Mapping):
        notes.parts[digest] = {str(name): _figures(part) for name, part in plain.items()}


def note_document(document: str, number: str, version: int, digest: str) -> None:
    """Notes a document that bears a digest."""
    notes = _open.get()
    if notes is not None and digest:
        notes.sheets.append(Sheet(document, number, version, digest, notes.parts.get(digest, {})))


def end_before_drawing() -> None:
    """Raises NotDrawn where no page is wanted."""
    notes = _open.get()
    if notes is not None and not notes.on_paper:
        raise NotDrawn


def _figures(part: object) -> str:
    text = json.dumps(part, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:PART_FIGURES]
