"""Enquiries: what a finding left to be answered, who looked into it, what came of it, and who agreed.

A difference beyond its review threshold that the instruments can tell from nothing is opened as an enquiry in the
same transaction as the entry that raised it. It stays until it has a cause, what was checked and a second person,
or until a correction makes it go away. Losses are examined, their cause is recorded, and losses and gains are set
off only where shown to be related, with a written reason (GOV.UK, Alcoholic products technical guide, section 14).

The rooms beside this one ask two questions of it: what is not answered yet, and how a finding stands.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ledger.enquiries.models import Enquiry

__all__ = ["state_of", "unanswered"]


# The tables of this room are read while the ledger's own are being set up, so what reads them is fetched when asked.
def unanswered(period: str) -> list[Enquiry]:
    """Enquiries about a month ('2027-03') that keep it from closing: open, or waiting for a second person."""
    from ledger.enquiries import standing

    return standing.unanswered(period)


def state_of(keys: Iterable[str]) -> dict[str, str]:
    """How the enquiry about each finding stands, in plain words, by the finding's key; those without one left out."""
    from ledger.enquiries import standing

    return standing.state_of(keys)
