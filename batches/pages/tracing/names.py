"""What kinds and places of a trace are called, and where a trace is found."""

from __future__ import annotations

from django.urls import reverse
from django.utils.http import urlencode

from batches.sheets.register import all_sheets


def kind_name(kind: str) -> str:
    """'Spirit run' for the kind of a record, 'Malt lot' for what a trace calls one, 'Cask' for a place."""
    sheet = next((one for one in all_sheets() if one.kind == kind), None)
    return sheet.title if sheet is not None else kind.capitalize()


def trace_address(ref: str, name: str = "trace") -> str:
    """The address of a trace, or of what else is said by the same number."""
    return f"{reverse(name)}?{urlencode({'ref': ref})}"
