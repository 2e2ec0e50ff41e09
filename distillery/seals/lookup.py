"""Which seal is the last, and what is said of it wherever it leaves the database."""

from __future__ import annotations

from django.db import connection

from distillery import figures
from distillery.clock.reading import site_day
from distillery.hashing import FIRST_SEAL
from distillery.seals.models import BooksSeal, SealGap

WHAT_IT_SHOWS = (
    "A seal noted outside these books shows whether all that was written before it is still what it was. It does not "
    "show who wrote it, nor what was written after it."
)


def last_seal() -> BooksSeal | None:
    """The newest seal of the books; None before anything is written."""
    return BooksSeal.objects.order_by("-number").first()


def last_seal_if_any() -> BooksSeal | None:
    """The same of a database that may have no tables yet."""
    return last_seal() if BooksSeal._meta.db_table in connection.introspection.table_names() else None


def beginning(digits: str) -> list[BooksSeal]:
    """The seals that begin with these hexadecimal figures, oldest first."""
    return list(BooksSeal.objects.filter(seal__gte=digits, seal__lt=f"{digits}g").order_by("number")[:10])


def named(books_seal: BooksSeal) -> str:
    """A seal in one line, as it stands on paper: '1234 of 29 Nov 2026, 9f3c 71d0 44ab e802'."""
    short = " ".join(books_seal.seal[at : at + 4] for at in range(0, 16, 4))
    return f"{books_seal.number} of {day_of(books_seal)}, {short}"


def day_of(books_seal: BooksSeal) -> str:
    """The day a seal was made on, by the site's clock."""
    return figures.day(site_day(books_seal.made_at), year=True)


def file_part(books_seal: BooksSeal | None) -> str:
    """How a seal stands in the name of a file: '2026-11-29-seal-1234-9f3c71d0'."""
    if books_seal is None:
        return f"empty-{FIRST_SEAL[:8]}"
    return f"{site_day(books_seal.made_at).isoformat()}-seal-{books_seal.number}-{books_seal.seal[:8]}"


def gaps() -> list[SealGap]:
    """What two people recorded of seals that these books lack, oldest first."""
    return list(SealGap.objects.select_related("person", "second").order_by("noted_number"))


def said_of(gap: SealGap) -> str:
    """A gap in one sentence."""
    return (
        f"Seals {gap.after + 1} to {gap.noted_number} of {figures.day(gap.noted_on, year=True)} are lost: "
        f"{gap.reason.rstrip('.')}. Recorded {figures.day(site_day(gap.recorded_at), year=True)} by "
        f"{gap.person.shown_name} and {gap.second.shown_name}."
    )


def foot_line() -> str:
    """What stands at the foot of every print; blank before anything is written."""
    last = last_seal()
    if last is None:
        return ""
    lost = "".join(f"; seals {gap.after + 1} to {gap.noted_number} are recorded as lost" for gap in gaps())
    return f"Last seal of the books: {named(last)}{lost}"
