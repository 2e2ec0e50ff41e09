"""What a digest from the register of prints belongs to, and what its document would say now."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from django.db.models import BooleanField, ExpressionWrapper, Q

from distillery import figures
from distillery.printing.furniture import SCREEN_COPY
from distillery.printing.noting import Changed
from distillery.prints.figures_kept import figures_changed
from distillery.prints.models import Print
from distillery.prints.remaking import changed, remade
from ledger.proof.checking import Asked, Checked, beginning

# Figures that one sentence names; all of them are in the list behind the next copy, and in the command's answer.
MOST_NAMED: Final = 8
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
    figures_other: tuple[Changed, ...] = ()
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
        other, figures_other = changed(one, now), figures_changed(one.digest, now)
        sentence = f"{said} Every figure the books would print on this page today is the one that was printed."
        if other:
            sentence = f"{said} The books would print something else today. What is other now: {', '.join(other)}."
            sentence += then_and_now(figures_other)
    return Checked(
        one.title,
        one.address,
        not other,
        now.digest if now is not None else one.digest,
        sentence,
        document=one.title,
        version=one.version,
        changed=other,
        figures=figures_other,
        printed=True,
    )


def then_and_now(changed_figures: tuple[Changed, ...]) -> str:
    """The first of what is other as a sentence, each as it was printed and as it is; blank where none was kept."""
    if not changed_figures:
        return ""
    named = [f"{one.part}, {one.what}: {one.was}, now {one.now}" for one in changed_figures[:MOST_NAMED]]
    more = len(changed_figures) - len(named)
    return f" Then and now: {'; '.join(named)}{f'; and {more} more' if more else ''}."
