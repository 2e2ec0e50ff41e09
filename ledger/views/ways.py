"""Links between the ledger's pages, and down from a figure to the record it came from."""

from __future__ import annotations

from django.urls import reverse

from distillery.pages import Link
from ledger.models import Account, AccountKind
from ledger.posting.accounts import VESSEL_ACCOUNT

# The places of Books, each with what stands within it: the strip shows one line of them, and the places within the one
# that is open below it. The first within a place is where it leads.
BOOKS = (
    ("Months", (("books", "Months"),)),
    ("Board", (("board", "Board"),)),
    ("Findings", (("findings", "Findings"), ("enquiries", "Enquiries"))),
    ("Losses", (("losses", "Loss register"),)),
    ("Duty", (("duty_account", "Duty account"), ("returns", "Returns"))),
    ("Stock", (("stock_takes", "Stock takes"), ("stock_on", "Stock on a day"))),
    ("Accounts", (("accounts", "All accounts"), ("movements", "Movements"))),
    (
        "Proof and export",
        (
            ("check_digest", "Check a printed page"),
            ("seals", "Seals"),
            ("officer_bundle", "Officer's bundle"),
            ("export", "Export"),
            ("long_work", "Long work"),
        ),
    ),
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
    """The strip of places inside Books; `current` is the name of a route, of a place or of one within it."""
    strip = []
    for text, within in BOOKS:
        inner = [Link(said, reverse(name), current=name == current) for name, said in within]
        is_open = any(one.current for one in inner)
        strip.append(
            Link(text, inner[0].href, current=is_open, within=tuple(inner) if is_open and len(inner) > 1 else ())
        )
    return strip
