"""The parts of a bundle that can be left out.

Contents, how to read, keyholders, opening times and digests always are in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Final


class Group(StrEnum):
    """Documents that are chosen together, in the order in which they stand."""

    ACCOUNTS = "accounts"
    STOCK = "stock"
    RECORDS = "records"
    LOSSES = "losses"
    RETURNS = "returns"
    CHANGES = "changes"
    VISITS = "visits"
    INSTRUMENTS = "instruments"


EVERY: Final = tuple(Group)
NAMES: Final[Mapping[Group, str]] = {
    Group.ACCOUNTS: "Accounts of the month and of its vessels",
    Group.STOCK: "Stock in vessels, casks and bottles",
    Group.RECORDS: "Records, and removals with their duty",
    Group.LOSSES: "Losses and enquiries",
    Group.RETURNS: "Return figures",
    Group.CHANGES: "Entries late, missing, struck or put right",
    Group.VISITS: "Visit notes",
    Group.INSTRUMENTS: "Instruments and tables",
}
