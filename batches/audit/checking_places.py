"""What a digest at the foot of a trace, of what something touched, or of a cask's page belongs to.

All three are worked out anew as the books stand, from the number at the head of the page.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from django.urls import reverse

from batches.tracing.references import NoSuchReference, Reference, refer
from distillery.plant.models import Kind as VesselKind
from ledger.proof.checking import Asked, Checked, printed_page


class _Page(NamedTuple):
    title: str
    href: str
    digest: str


def find_places(asked: Asked) -> Iterator[Checked]:
    """The pages of a number that agree with the digest; where none does and the number is no record's, all of them."""
    # A cask's page has the day of printing behind its number.
    number = asked.number.partition(",")[0].strip()
    if not number:
        return
    try:
        meant = refer(number)
    except NoSuchReference:
        return
    pages = list(_pages(meant))
    agreeing = [page for page in pages if page.digest.startswith(asked.digest)]
    for page in agreeing or ([] if meant.records else pages):
        yield printed_page(page.title, page.href, page.digest, asked)


def _pages(meant: Reference) -> Iterator[_Page]:
    # Here and not above: no command has to load pages and paper before it starts.
    from batches.pages.recalling.found import found_by
    from batches.pages.recalling.printed import recall_digest
    from batches.pages.tracing.names import trace_address
    from batches.pages.tracing.printed import trace_digest
    from batches.recalls import recalling
    from batches.tracing.trace import follow_trace

    trace, now = follow_trace(meant), "as it would be printed now"
    yield _Page(f"Trace of {meant.ref}, {now}", trace_address(meant.ref), trace_digest(trace))
    standing = recalling.standing().filter(ref=meant.ref).first()
    touched = recall_digest(found_by(trace), standing)
    yield _Page(f"What {meant.ref} touched, {now}", trace_address(meant.ref, "recall"), touched)
    yield from _cask(meant, now)


def _cask(meant: Reference, now: str) -> Iterator[_Page]:
    from batches.pages.casks.page import held_of
    from batches.pages.casks.printed import cask_digest

    vessel = meant.account.vessel if meant.account is not None else None
    if vessel is not None and vessel.kind == VesselKind.CASK:
        digest = cask_digest(vessel, *held_of(vessel))
        yield _Page(f"Cask {vessel.code}, {now}", reverse("cask", args=[vessel.code]), digest)
