"""Links between the ledger's pages, and down from a figure to the record it came from."""

from __future__ import annotations

from django.urls import reverse

from distillery.pages import Link
from ledger.models import Account, AccountKind
from ledger.posting.accounts import VESSEL_ACCOUNT

BOOKS = (
    ("books", "Months"),
    ("board", "Board"),
    ("findings", "Findings"),
    ("enquiries", "Enquiries"),
    ("losses", "Loss register"),
    ("duty_account", "Duty account"),
    ("returns", "Returns"),
    ("stock_takes", "Stock takes"),
    ("stock_on", "Stock on a day"),
    ("accounts", "All accounts"),
    ("movements", "Movements"),
    ("check_digest", "Check a printed page"),
    ("seals", "Seals"),
    ("officer_bundle", "Officer's bundle"),
    ("export", "Export"),
    ("long_work", "Long work"),
)


def record_href(kind: str, number: str) -> str:
    """The page of a record, which stands on the floor above and is known here by name only."""
    return reverse("record", kwargs={"kind": kind, "number": number})


def account_href(account: Account) -> str:
    """The page of an account."""
    return reverse("vessel_account", kwargs={"code": short(account)})


def short(account: Account) -> str:
    """A vessel by its own code, any other account by its full one."""
    return account.code.removeprefix(VESSEL_ACCOUNT) if account.kind == AccountKind.VESSEL else account.code


def books_places(current: str) -> list[Link]:
    """The strip of places inside Books."""
    return [Link(text, reverse(name), current=name == current) for name, text in BOOKS]
