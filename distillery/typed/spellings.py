"""The ways in which one number may stand in the books: a person types it in any case and without its noughts."""

from __future__ import annotations

import re
from typing import Final

from django.db import connection
from django.db.models import Q

# Figures that a number is written with at most; a longer run of them is no number of a series.
MOST_FIGURES: Final = 8
# Behind every letter: where the texts that begin with another end.
BEHIND_ALL: Final = "\U0010ffff"
ENDS_IN_FIGURES: Final = re.compile(r"(?P<head>.*?)(?P<between>[\s-]?)(?P<figures>[0-9]+)")


def spellings(text: str) -> set[str]:
    """The ways in which a number may stand in the books: capitals, small letters, with and without noughts."""
    written = {text}
    match = ENDS_IN_FIGURES.fullmatch(text)
    if match is not None and (bare := match["figures"].lstrip("0")) and len(bare) <= MOST_FIGURES:
        heads = {match["head"], match["head"] + match["between"]}
        written |= {f"{head}{bare:0>{width}}" for head in heads for width in range(len(bare), MOST_FIGURES + 1)}
    return {spelt for one in written for spelt in in_any_case(one)}


def same_number(text: str) -> str:
    """The one form that all spellings of a number share, such as ma0007 and MA-7."""
    match = ENDS_IN_FIGURES.fullmatch(text.strip().casefold())
    bare = match["figures"].lstrip("0") if match is not None else ""
    return f"{match['head']}{bare}" if match is not None and bare else text.strip().casefold()


def in_any_case(text: str) -> set[str]:
    """A text as it was typed, in capitals and in small letters."""
    return {text, text.upper(), text.lower()}


def begins(field: str, text: str) -> Q:
    """Rows whose field begins with a text, as typed, in capitals or in small letters, found along the field's index."""
    found = Q(pk__in=())
    for one in in_any_case(text):
        if connection.vendor == "sqlite":
            # Its LIKE goes past the index; the stretch of the texts in their order does not.
            found |= Q(**{f"{field}__gte": one, f"{field}__lt": one + BEHIND_ALL})
        else:
            found |= Q(**{f"{field}__startswith": one})
    return found
