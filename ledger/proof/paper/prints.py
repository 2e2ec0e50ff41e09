"""What a digest from the register of prints belongs to, and what its document would say now."""

from __future__ import annotations

from collections.abc import Iterator

from distillery import figures
from distillery.prints.models import Print
from distillery.prints.remaking import changed, remade
from ledger.proof.checking import Asked, Checked, beginning


def find_prints(asked: Asked) -> Iterator[Checked]:
    """Documents that went on paper with a digest that begins so, each once, as last printed."""
    latest: dict[tuple[str, str], Print] = {}
    for one in beginning(Print.objects.select_related("by").order_by("-pk"), "digest", asked.digest):
        latest.setdefault((one.digest, one.title), one)
    for one in latest.values():
        yield _checked(one)


def _checked(one: Print) -> Checked:
    now = remade(one)
    who = one.by.shown_name if one.by is not None else "the command line"
    said = f"Last printed {figures.moment(one.at, year=True)} by {who}."
    if now is None:
        other: tuple[str, ...] = ("it cannot be worked out any more",)
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
