"""The digest of the plain data behind a printed record, so that paper and stored data can be compared later.

SHA-256 (FIPS 180-4) over the data in a fixed order as UTF-8 text. It shows that a print and the stored data
agree; it does not show who wrote them. How a figure is written on the page is no part of it, nor is who printed it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum

from distillery.printing.blocks import Paragraph
from distillery.printing.furniture import grouped
from distillery.printing.noting import as_text, note_parts

MEANING = "It shows that this print and the stored data agree; it does not show who wrote them."


def plain_data(value: object) -> object:
    """`value` as lists, names and figures: what the digest is taken over.

    Dataclasses become their fields by name; functions that only format are left out. Raises TypeError for a
    value that has no plain form.
    """
    if isinstance(value, Enum):
        return plain_data(value.value)
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if is_dataclass(value) and not isinstance(value, type):
        held = {each.name: getattr(value, each.name) for each in fields(value)}
        return {name: plain_data(part) for name, part in held.items() if not callable(part)}
    if isinstance(value, Mapping):
        return {str(name): plain_data(part) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [plain_data(part) for part in value]
    raise TypeError(f"A {type(value).__name__} has no plain form that a digest could be taken over.")


def digest_of(value: object) -> str:
    """SHA-256 of the plain data, 64 hexadecimal figures."""
    plain = plain_data(value)
    digest = hashlib.sha256(as_text(plain).encode("utf-8")).hexdigest()
    note_parts(digest, plain)
    return digest


def digest_statement(digest: str) -> Paragraph:
    """The digest in full with what it does and does not show: on the last page, above the signatures."""
    return Paragraph(digest_sentence(digest), small=True, space_above=8.0, keep_with_next=True, closes=True)


def digest_sentence(digest: str) -> str:
    """The same as a sentence."""
    return f"Digest of the data (SHA-256), {grouped(digest)} in short: {digest}. {MEANING}"
