"""Proves the batch records from a closing on: what was written since, and what its legs make of what was there.

Versions, postings, states, contents and links as `proving` and `proving_standing` prove them of the whole. Which are
new the trail says: its entries after the closing name the versions written since.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Final

from batches.audit.proving import (
    kept_by_account,
    postings_apart,
    said_of_contents,
    said_of_links,
    same_contents,
    versions_apart,
)
from batches.audit.proving_standing import standing_apart
from batches.models import Posted, Record, Version
from batches.tracing import links
from distillery.trail.models import Entry
from ledger.models import Leg
from ledger.proof.parts.since import Since

# Accounts followed together. A question names each by itself, and SQLite takes a few hundred terms in one.
TOGETHER: Final = 100


def prove_records_since(since: Since) -> Iterator[str]:
    """One sentence for each place of the records written since a closing that does not hold."""
    rows = Entry.objects.filter(pk__gt=since.entry, table=Version._meta.db_table).values_list("row", flat=True)
    first = min((int(row) for row in rows.iterator() if row.isdecimal()), default=None)
    records: set[int] = set()
    if first is not None:
        versions = Version.objects.filter(pk__gte=first)
        records = set(versions.values_list("record_id", flat=True))
        earlier = Version.objects.filter(record__in=records, pk__lt=first).order_by("serial")
        before = {pk: (serial, digest) for pk, serial, digest in earlier.values_list("record_id", "serial", "digest")}
        yield from versions_apart(versions, before)
    posted = Posted.objects.filter(movement_id__gte=since.first)
    yield from postings_apart(since.first)
    yield from _links_since(since)
    records |= set(posted.values_list("record_id", flat=True))
    yield from standing_apart(Record.objects.filter(pk__in=records))


def _links_since(since: Since) -> Iterator[str]:
    """Contents and links of the accounts that something was posted to, followed on from what was there before."""
    touched = Leg.objects.filter(movement_id__gte=since.first, movement__posted__isnull=False).values("account_id")
    codes = dict(links.followed_accounts().filter(pk__in=touched).order_by("pk").values_list("pk", "code"))
    every = list(codes)
    for first in range(0, len(every), TOGETHER):
        accounts = every[first : first + TOGETHER]
        bases = links.contents_before(accounts, since.closing.ends)
        held, passed = kept_by_account(links.beyond(bases, accounts))
        for account, contents, made in links.followed_on(accounts, bases):
            base = bases.get(account)
            kept = [one for one in held[account] if links.is_beyond(base, (one.happened_at, one.slot))]
            if not same_contents(kept, contents):
                yield said_of_contents(codes[account])
            by_way = [one for one in passed[account] if links.is_beyond(base, (one.happened_at, one.slot))]
            if Counter(by_way) != Counter(made):
                yield said_of_links(codes[account])
