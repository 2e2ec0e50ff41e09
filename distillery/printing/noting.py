"""What was put on paper while something was being printed: each document with its digest, and of what parts it is.

Whoever wants to know opens `noted`; the blocks of print and the digest tell it, and nobody else has to. With
`on_paper` off the document is worked out as far as its digest and then let be, so that a digest from paper is compared
without drawing a page.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, replace

PART_FIGURES = 16
# Before the name of a part that is one section of a sheet.
SECTION = "section "


class NotDrawn(Exception):
    """All documents are known by their digests, and no page is wanted."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One document as it went on paper. `parts`: of each named part the first figures of its own digest; `plain`: what
    the digest was taken over, None where nobody keeps it."""

    document: str
    number: str
    version: int
    digest: str
    parts: Mapping[str, str]
    copy: int = 0
    plain: object = None


@dataclass(frozen=True, slots=True)
class Changed:
    """One figure that is other than in the version before: in which part, what it is, as it was and as it is."""

    part: str
    what: str
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class Numbering:
    """Which version of its document a print is, and which copy (0: not counted, as it was only looked at).

    `changed` are the named parts that are other than in version `before`, the last one printed with another digest;
    `figures` is what is other in them, as far as the register has kept the figures of that version.
    """

    version: int
    copy: int
    before: int = 0
    changed: tuple[str, ...] = ()
    figures: tuple[Changed, ...] = ()


Numbers = Callable[[Sheet], Numbering]


@dataclass(slots=True)
class Notes:
    """What one piece of printing made. `numbers` says of each document which version and copy it is."""

    on_paper: bool = True
    numbers: Numbers | None = None
    sheets: list[Sheet] = field(default_factory=list)
    parts: dict[str, dict[str, str]] = field(default_factory=dict)
    plain: dict[str, object] = field(default_factory=dict)

    def clear(self) -> None:
        """Forgets what was noted so far, where many documents are made one after another."""
        self.sheets.clear()
        self.parts.clear()
        self.plain.clear()


_open: ContextVar[Notes | None] = ContextVar("prints", default=None)


@contextmanager
def noted(*, on_paper: bool = True, numbers: Numbers | None = None) -> Iterator[Notes]:
    """Notes every document that is printed inside it. Without `on_paper`, printing one raises NotDrawn."""
    notes = Notes(on_paper, numbers)
    token = _open.set(notes)
    try:
        yield notes
    finally:
        _open.reset(token)


def as_text(plain: object) -> str:
    """Plain data as the text that a digest is taken over."""
    return json.dumps(plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def note_parts(digest: str, plain: object) -> None:
    """Keeps the plain data behind a digest and of what parts they are, where somebody wants to know."""
    notes = _open.get()
    if notes is not None and isinstance(plain, Mapping):
        notes.plain[digest] = plain
        notes.parts[digest] = {name: _figures(part) for name, part in _named(plain)}


def _named(plain: Mapping[str, object]) -> Iterator[tuple[str, object]]:
    """The parts by their names; what stands under headings of its own is a part for each heading."""
    for name, part in plain.items():
        several = part if isinstance(part, list) else []
        under = {str(one["heading"]): one for one in several if isinstance(one, Mapping) and one.get("heading")}
        if under and len(under) == len(several):
            yield from ((f"{SECTION}{heading}", one) for heading, one in under.items())
        else:
            yield str(name), part


def note_document(document: str, number: str, version: int, digest: str) -> Numbering | None:
    """Notes a document that bears a digest, and says which version and copy of it this is where that is counted."""
    notes = _open.get()
    if notes is None or not digest:
        return None
    sheet = Sheet(document, number, version, digest, notes.parts.get(digest, {}), plain=notes.plain.get(digest))
    numbering = notes.numbers(sheet) if notes.numbers is not None else None
    notes.sheets.append(sheet if numbering is None else replace(sheet, version=numbering.version, copy=numbering.copy))
    return numbering


def end_before_drawing() -> None:
    """Raises NotDrawn where no page is wanted."""
    notes = _open.get()
    if notes is not None and not notes.on_paper:
        raise NotDrawn


def _figures(part: object) -> str:
    text = json.dumps(part, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:PART_FIGURES]
