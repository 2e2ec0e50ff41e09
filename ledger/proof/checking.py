"""Whether a printed page agrees with the books: what a digest typed from paper belongs to, worked out anew.

A digest is looked for by how it begins among the seals of movements and the digests of closings; floors above add what
they print to FINDERS. The foot of a printed account or record carries a digest over all that stands on the page, which
is kept nowhere: the number from the head of the page says what to work it out from.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from django.db import models
from django.urls import reverse

from distillery.figures import moment
from distillery.hashing import seal
from distillery.people.models import Person
from distillery.printing.noting import Changed
from distillery.seals import lookup
from distillery.seals.writing import content
from ledger.models import Movement
from ledger.periods import sealed
from ledger.periods.models import Closing
from ledger.proof.chain import link_of, seal_holds
from ledger.statements.month import NoSuchPeriod, month_account

SHORTEST, LONGEST = 8, 64
MOST = 10
# Letters that a hand or an eye takes for figures; none of them is a hexadecimal figure.
MISTAKEN = str.maketrans({"o": "0", "O": "0", "l": "1", "i": "1", "I": "1", "L": "1"})
BETWEEN = str.maketrans("", "", " \t-:\u00a0")

Row = TypeVar("Row", bound=models.Model)


class NoDigest(ValueError):
    """What was typed cannot be a digest; one sentence."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What stands on the paper: the digest or its beginning, and the number at the head of the page if it was typed."""

    digest: str
    number: str = ""


@dataclass(frozen=True, slots=True)
class Checked:
    """What a digest belongs to and whether it still agrees: title and way there, the digest worked out now.

    `anew`: a page that bears the number which was typed, so that the digest may be that of another page of it.
    `document` and `version` as at the head of a page; `changed` names what is other now, `figures` each figure of it
    where those printed were kept; `printed` is from the register of prints.
    """

    title: str
    href: str
    agrees: bool
    digest: str
    sentence: str
    anew: bool = False
    document: str = ""
    version: int = 0
    changed: tuple[str, ...] = ()
    figures: tuple[Changed, ...] = ()
    printed: bool = False


Finder = Callable[[Asked], Iterator[Checked]]
FINDERS: list[Finder] = []


def read_digest(typed: str) -> str:
    """The digest in small hexadecimal figures without spaces. Raises NoDigest."""
    text = typed.translate(BETWEEN).translate(MISTAKEN).lower()
    wrong = next((letter for letter in text if letter not in "0123456789abcdef"), "")
    if wrong:
        raise NoDigest(f"Digest has '{wrong}' in it; it is written with 0 to 9 and a to f only.")
    if not SHORTEST <= len(text) <= LONGEST:
        raise NoDigest(
            f"Digest is {len(text)} figures long; type at least {SHORTEST} of it, up to the whole {LONGEST}."
        )
    return text


def check(asked: Asked) -> list[Checked]:
    """Everything the digest belongs to, with what the books say now; nothing where it is known nowhere."""
    found: list[Checked] = []
    for finder in (_movements, _closings, _books, _months, *FINDERS):
        found += finder(asked)
    if any(one.agrees for one in found):
        # One number heads several pages: a record's own, its trace. The paper is the one that agrees.
        found = [one for one in found if one.agrees or not one.anew]
    if any(one.printed for one in found):
        # The register knows which page the paper is; the number typed with it can say no more.
        found = [one for one in found if not one.anew]
    return found


def beginning(rows: models.QuerySet[Row], column: str, digest: str) -> models.QuerySet[Row]:
    """The rows whose digest begins so, found by the order of the column's index."""
    return rows.filter(**{f"{column}__gte": digest, f"{column}__lt": f"{digest}g"})[:MOST]


def _movements(asked: Asked) -> Iterator[Checked]:
    for movement in beginning(Movement.objects.select_related("person", "second"), "seal", asked.digest):
        link = link_of(movement)
        holds = seal_holds(link)
        title = f"Movement {movement.pk}: {movement.operation}, {movement.record_number}"
        href = reverse("movement", kwargs={"number": movement.pk})
        if holds:
            sentence = f"It is the seal of a movement written {moment(movement.written_at, year=True)}."
        else:
            sentence = "It is the seal of this movement, but what the database now holds does not give this seal."
        yield Checked(title, href, holds, movement.seal, sentence)


def _closings(asked: Asked) -> Iterator[Checked]:
    people = dict(Person.objects.values_list("pk", "username"))
    for closing in beginning(Closing.objects.select_related("request"), "digest", asked.digest):
        balances = closing.balances.values_list("account__code", "pure_ul", "mass_g")
        digest = sealed.digest(closing, balances, people=people)
        agrees = digest == closing.digest
        if agrees:
            sentence = f"It is the digest of a closing agreed to {moment(closing.agreed_at, year=True)}."
        else:
            sentence = "It is the digest of this closing, but what the database now holds does not give this digest."
        href = reverse("month", kwargs={"period": closing.period})
        yield Checked(f"Closing {closing.number} of {closing.period}", href, agrees, digest, sentence)


def _books(asked: Asked) -> Iterator[Checked]:
    for books_seal in lookup.beginning(asked.digest):
        holds = seal(books_seal.previous_seal, content(books_seal)) == books_seal.seal
        said = f"It is a seal of the books, made on {lookup.day_of(books_seal)}."
        if not holds:
            said = "It is a seal of the books, but what the database now says of it does not give this seal."
        yield Checked(f"Seal {books_seal.number} of the books", reverse("seals"), holds, books_seal.seal, said)


def _months(asked: Asked) -> Iterator[Checked]:
    # Here and not above: what a month prints leans on the whole comparison, and every command would load it.
    from distillery.printing.documents.month_account import account_digest
    from ledger.statements.printed import MONTH_PREFIX, month_account_sheet

    if not asked.number.upper().startswith(MONTH_PREFIX):
        return
    period = asked.number[len(MONTH_PREFIX) :]
    try:
        digest = account_digest(month_account_sheet(month_account(period)))
    except NoSuchPeriod:
        return
    yield printed_page(f"Account of {period}", reverse("month", kwargs={"period": period}), digest, asked)


def printed_page(title: str, href: str, digest: str, asked: Asked, *, since: str = "") -> Checked:
    """Says of a page whose digest was worked out anew whether it is the digest on the paper.

    `since` is a sentence on what was written since, where something was.
    """
    agrees = digest.startswith(asked.digest)
    if agrees:
        sentence = "Every figure the books would print on this page today is the one that was printed."
    else:
        sentence = (
            "The books would print something else on this page today: something was entered, corrected or answered "
            f"since it was printed, or the page is not from these books. {since}".strip()
        )
    return Checked(title, href, agrees, digest, sentence, anew=True)
