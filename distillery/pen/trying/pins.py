"""PINs: six figures, chosen by the person with somebody there, good at enrolled PCs alone.

What is kept is a hash by the site's slow hasher (Argon2id) over an HMAC-SHA256 of the PIN with a secret that stands
outside the database. A million PINs are tried in days even so: who has both database and secret has the PINs, and the
site's notes say it. The secret is a file of its own, not worked out from SECRET_KEY: that key is changed to end all
sessions after a leak, and then nobody on shift could take the pen.
"""

from __future__ import annotations

import hashlib
import hmac
from datetime import datetime
from itertools import pairwise
from typing import Final

from django.conf import settings
from django.contrib.auth.hashers import check_password, make_password
from django.utils import timezone
from django.views.decorators.debug import sensitive_variables

from distillery.database.retrying import retried
from distillery.pen.models import PinChosen, PinHash
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, holds, may_write
from distillery.seals.writing import written_by

FIGURES: Final = 6
FEWEST_DIFFERENT: Final = 3
# The ways over a keypad that people take, and figures that everybody knows; common practice, no source.
COMMON: Final = frozenset(
    {
        "147258",
        "258369",
        "159753",
        "357159",
        "159357",
        "147852",
        "741852",
        "963852",
        "789456",
        "456123",
        "142536",
        "102030",
        "135790",
        "246810",
        "112233",
        "332211",
        "123321",
        "112358",
        "314159",
        "271828",
        "161803",
        "141421",
        "696969",
        "420420",
        "147896",
        "321654",
        "987456",
    }
)


class NotChosen(Exception):
    """A PIN cannot be chosen so; one sentence, and the box it belongs to."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


def looks_like_a_pin(secret: str) -> bool:
    """True for six figures; spaces between them do not count."""
    bare = _bare(secret)
    return len(bare) == FIGURES and bare.isascii() and bare.isdigit()


def too_plain(pin: str) -> str:
    """Why a PIN of six figures would be guessed first; blank where it would not."""
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    if len(set(pin)) < FEWEST_DIFFERENT:
        return "has fewer than three different figures"
    if steps in ({1}, {9}):
        return "counts up or down"
    if pin[:3] == pin[3:] or pin[:2] * 3 == pin:
        return "repeats itself"
    if pin in COMMON:
        return "is one of the commonest"
    return ""


def has_pin(person: Person) -> bool:
    """Whether the person has chosen a PIN."""
    return PinHash.objects.filter(person=person).exists()


@sensitive_variables()
def is_pin_of(person: Person, pin: str) -> bool:
    """Whether this is the person's PIN. Slow by design; raises ManySigningOn."""
    kept = PinHash.objects.filter(person=person).first()
    return kept is not None and check_password(_peppered(_bare(pin)), kept.encoded)


@sensitive_variables()
def choose(person: Person, pin: str, again: str, *, present: Person, also_present: Person | None = None) -> PinChosen:
    """Keeps a PIN that a person typed twice with `present` there: a manager or administrator, or one who writes, and
    then `also_present` too. Wrong tries before it count no longer. Raises NotChosen.
    """
    pin, again = _bare(pin), _bare(again)
    if not looks_like_a_pin(pin):
        raise NotChosen(f"A PIN is {FIGURES} figures.", "pin")
    if plain := too_plain(pin):
        raise NotChosen(f"That PIN {plain}; choose another.", "pin")
    if pin != again:
        raise NotChosen("The two are not the same; type both again.", "again")
    _refuse_presence(person, present, also_present)
    encoded = make_password(_peppered(pin))
    return _keep(person, encoded, present, also_present, timezone.now())


@retried
def _keep(person: Person, encoded: str, present: Person, also_present: Person | None, now: datetime) -> PinChosen:
    with written_by(present, "choosing a PIN"):
        PinHash.objects.update_or_create(person=person, defaults={"encoded": encoded})
        return PinChosen.objects.create(person=person, at=now, present=present, also_present=also_present)


def _refuse_presence(person: Person, present: Person, also_present: Person | None) -> None:
    if holds(present, PLANT_KEEPERS):
        return
    sentence = "A manager has to be there, or two others who write: name the second and let them type their own PIN."
    if also_present is None or not may_write(present) or not may_write(also_present):
        raise NotChosen(sentence, "second_name")
    if len({person.pk, present.pk, also_present.pk}) < len((person, present, also_present)):
        raise NotChosen("The two have to be others than the one who chooses, and two.", "second_name")


def _bare(pin: str) -> str:
    return "".join(pin.split())


def _peppered(pin: str) -> str:
    return hmac.new(settings.PIN_PEPPER.encode(), pin.encode(), hashlib.sha256).hexdigest()
