"""How far a reading walks from the form to the seal: from module to module, and back into none it has left.

At three places on its way it is asked who called whom: where what was typed is read, where a gauge is computed, where
the movement is sealed. A module that stands twice in one of these chains was gone back to.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from itertools import pairwise
from types import FrameType
from typing import Any

from django.test import Client

from batches.models import Record
from distillery.people.models import Person
from ledger.models import Movement

from .tiny_plant import gauge

HOUSE = ("batches", "ledger", "distillery")
MOST_MODULES = 15
# It carries no reading: it only calls again while the books are busy, whoever it is that writes.
ASIDE = {"distillery.database.retrying"}
PLACES = {
    ("batches.sheets.typed.parsing", "read"),
    ("ledger.posting.gauging", "measure"),
    ("ledger.proof.sealing", "line_of"),
}
TRANSFER = {
    "at": "2027-03-02T08:00",
    "from_vessel": "VA",
    "to_vessel": "BV",
    **gauge("from_before", "1000", "60"),
    **gauge("to_before", "0"),
    **gauge("from_after", "500", "60"),
    **gauge("to_after", "500", "60"),
}


def _module(frame: FrameType) -> str:
    return str(frame.f_globals.get("__name__", ""))


def _chain(frame: FrameType | None) -> tuple[str, ...]:
    """The modules of the house that stand above a frame, the outermost first, from the page on."""
    found: list[str] = []
    while frame is not None:
        name = _module(frame)
        if name.split(".")[0] in HOUSE and name not in ASIDE and (not found or found[-1] != name):
            found.append(name)
        frame = frame.f_back
    found.reverse()
    pages = [place for place, name in enumerate(found) if name.startswith("batches.pages.")]
    return tuple(found[pages[0] :]) if pages else ()


def _walks(act: Callable[[], Any]) -> dict[str, set[tuple[str, ...]]]:
    """The chains of modules by the place they lead to, while something is done."""
    chains: dict[str, set[tuple[str, ...]]] = {name: set() for name, _ in PLACES}

    def look(frame: FrameType, event: str, _arg: object) -> None:
        if event == "call" and (_module(frame), frame.f_code.co_name) in PLACES:
            chains[_module(frame)].add(_chain(frame))

    before = sys.getprofile()
    sys.setprofile(look)
    try:
        act()
    finally:
        sys.setprofile(before)
    return chains


def test_a_reading_goes_from_form_to_seal_through_few_modules_and_back_into_none(
    opened: Callable[..., Record], staff: Person, browser_of: Callable[[Person], Client]
) -> None:
    opened("VA", "1000", "60")
    here = browser_of(staff)
    there = Movement.objects.count()
    walks = _walks(lambda: here.post("/records/transfer/new/", TRANSFER))
    assert Movement.objects.count() == there + 1
    for place, chains in walks.items():
        assert chains, f"nothing came to {place}"
        for chain in chains:
            assert len(set(chain)) == len(chain), f"gone back to on the way to {place}: {' > '.join(chain)}"
    steps = {name for chains in walks.values() for chain in chains for name in chain}
    order = [" > ".join(chain) for chains in walks.values() for chain in sorted(chains)]
    print(len(steps), "modules", *order, sep="\n")
    assert len(steps) <= MOST_MODULES, "\n".join(order)
    assert {one for chain in walks["ledger.proof.sealing"] for one in pairwise(chain)} >= {
        ("batches.records.settling", "batches.records.posting"),
        ("batches.records.posting", "ledger.posting.post"),
    }
