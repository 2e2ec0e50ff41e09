"""Where what a still leaves behind went: pot ale and spent lees."""

from __future__ import annotations

from typing import Final

from batches.sheets import fields
from batches.sheets.sheet import Field

# Offered, and no more: a site writes its own. Common practice, no source.
DESTINATIONS: Final = ("drain", "treatment plant", "farm", "co-products plant")


def destination(name: str, label: str) -> Field:
    """Where a residue went, in words."""
    return fields.name(name, label, choices=DESTINATIONS, required=False)
