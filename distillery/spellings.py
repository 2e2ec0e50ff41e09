"""The ways in which one number may stand in the books: a person types it in any case and without its noughts."""

from __future__ import annotations

import re
from typing import Final

# Figures that a number is written with at most; a longer run of them is no number of a series.
MOST_FIGURES: Final = 8
ENDS_IN_FIGURES: Final = re.compile(r"(?P<head>.*?)(?P<between>[\s-]?)(?P<figures>[0-9]+)")


def spellings(text: str) -> set[str]:
    """The ways in which a number may stand in the books: capitals, small letters, with and without noughts."""
    written = {text}
    match = ENDS_IN_FIGURES.fullmatch(text)
    if match is not None and (bare := match["figures"].lstrip("0")) and len(bare) <= MOST_FIGURES:
        heads = {match["head"], match["head"] + match["between"]}
        written |= {f"{head}{bare:0>{width}}" for head in heads for width in range(len(bare), MOST_FIGURES + 1)}
    return {spelt for one in written for spelt in in_any_case(one)}


def in_any_case(text: str) -> set[str]:
    """A text as it was typed, in capitals and in small letters."""
    return {text, text.upper(), text.lower()}
