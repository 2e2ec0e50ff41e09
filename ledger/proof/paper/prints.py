"""What a digest from the register of prints belongs to, and what its document would say now."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from django.db.models import BooleanField, ExpressionWrapper, Q

from distillery import figures
from distillery.printing.furniture import SCREEN_COPY
from distillery.prints.models import Print
from distillery.prints.remaking import changed, remade
from ledger.proof.checking import Asked, Checked, beginning

NOT_COMPARED: Final = "the verifier in the bundle's folder proves it"
COUNTED_FIRST: Final = ExpressionWrapper(Q(copy__gt=0), BooleanField()).desc()


def find_prints(asked: Asked) -> Iterator[Checked]:
    """Documents that went on paper with a digest that begins so, each once, as last printed."""
    latest: dict[tuple[str, str], Print] = {}
    for one in beginning(Print.objects.select_related("by").order_by(COUNTED_FIRST, "-pk"), "digest", asked.digest):
        latest.setdefault((one.digest, one.title), one)
    for one in latest.values():
        yield _checked(one)


def _checked(one: Print) -> Checked:
    now = remade(one)
    who = one.by.shown_name if one.by is not None else "the command line"
    as_what = f"as copy {one.copy} of version {one.version}" if one.copy else f"as a {SCREEN_COPY}"
    said = f"Last printed {figures.moment(one.at, year=True)} by {who}, {as_what}."
    if not one.address:
        other: tuple[str, ...] = (NOT_COMPARED,)
        sentence = f"{said} It lists the pages or digests of a bundle, and is made with that alone: {NOT_COMPARED}."
    elif now is None:
        other = ("it cannot be worked out any more",)
        sentence = f"{said} The books can no longer make this page."
    else:
        other = changed(one, now)
        sentence = f"{said} Every figure the books would print on this page today is the one that was printed."
        if other:
            sentence = f"{said} The books would print something else today. What is other now: {', '.join(other)}."
    return Checked(
        one.title,
        one.address,
        not other,
        now.digest if now is not None else one.digest,
        sentence,
        document=one.title,
        version=one.version,
        changed=other,
        printed=True,
    )
