"""Looks for a seal noted elsewhere among all that is sealed: the books as a whole, and single movements."""

from __future__ import annotations

from distillery import figures
from distillery.clock.reading import site_day
from distillery.seals import lookup, noted
from distillery.seals.noted import Noted
from ledger.models import Movement
from ledger.proof.checking import beginning, read_digest


def look_for(typed: str) -> Noted:
    """Whether the seal stands here and of what day it is. Raises NoDigest where it cannot be a seal.

    The proof, and not this, says whether the chain that it stands in holds.
    """
    digits = read_digest(typed)
    for books_seal in lookup.beginning(digits):
        return noted.standing(books_seal)
    for movement in beginning(Movement.objects.all(), "seal", digits):
        day = figures.day(site_day(movement.written_at), year=True)
        return Noted(True, f"Seal {digits[:16]} stands in the chain: movement {movement.pk}, written on {day}.")
    return noted.not_here(digits)
