"""The check figure of a number on a label: ISO/IEC 7064, MOD 37,36.

It finds every single figure or letter read wrongly and nearly every two neighbours changed about. Letters and figures
take part, capital and small ones alike; signs between them (a stroke, a hyphen) do not.
"""

from __future__ import annotations

from typing import Final

FIGURES: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_MODULUS: Final = 36


def check_figure(number: str) -> str:
    """One figure or capital letter. Raises ValueError where the number has neither figures nor letters A to Z."""
    sum_so_far = _MODULUS
    counted = [FIGURES.index(sign) for sign in number.upper() if sign in FIGURES]
    if not counted:
        raise ValueError(f"'{number}' has no figure or letter that a check figure could be made of.")
    for value in counted:
        sum_so_far = (sum_so_far + value) % _MODULUS or _MODULUS
        sum_so_far = sum_so_far * 2 % (_MODULUS + 1)
    return FIGURES[(_MODULUS + 1 - sum_so_far) % _MODULUS]
