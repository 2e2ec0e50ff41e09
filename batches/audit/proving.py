"""Proves the batch records as far as paper shows them: versions, what each posted, and the links between records.

Every version's digest is worked out again from what is stored and from the version before it. Every movement that was
posted from a version carries the digest of one that is there. Links and contents are followed again from the legs.
Readings along the way and the records' own rows are held against their trail, which the ledger's proof does.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping

from django.db.models import Count, F, Q, QuerySet

from batches.models import Contents, Link, Posted, Reading, Record, Version
from batches.records.versions import digest_of
from batches.tracing import links
from batches.tracing.materials import materials_apart
from ledger.models import Account, Leg, Movement
from ledger.proof.clock_back import places

CHUNK = 2000
LEGS = 5000

_Counted = defaultdict[int, Counter[tuple[object, ...]]]


def prove_records() -> Iterator[str]:
    """One sentence for each place of the batch records that does not hold."""
    yield from _versions()
    yield from postings_apart()
    yield from _links()


def remark_on_records() -> Iterator[str]:
    """Where the clock ran back between two versions or two readings, in the order in which they were written."""
    versions = Version.objects.order_by("pk").values_list("record__number", "serial", "written_at")
    yield from places(
        (f"version {serial} of {number}", at) for number, serial, at in versions.iterator(chunk_size=CHUNK)
    )
    readings = Reading.objects.order_by("pk").values_list("record__number", "written_at")
    yield from places((f"a reading of {number}", at) for number, at in readings.iterator(chunk_size=CHUNK))


def _versions() -> Iterator[str]:
    yield from versions_apart(Version.objects.all(), {})
    for number in Record.objects.filter(versions__isnull=True).values_list("number", flat=True):
        yield f"{number}: the record has no version"


def versions_apart(versions: QuerySet[Version], before: Mapping[int, tuple[int, str]]) -> Iterator[str]:
    """Versions whose digest is not that of what stands on them, and numbers left out.

    `before` has, of each record, serial and digest of the version before the first that is looked at, if there is one.
    """
    record, serial, digest = 0, 0, ""
    written = versions.select_related("record", "person").order_by("record_id", "serial")
    for version in written.iterator(chunk_size=CHUNK):
        if version.record_id != record:
            record = version.record_id
            serial, digest = before.get(record, (0, ""))
        serial += 1
        place = f"{version.record.number}, version {version.serial}"
        if version.serial != serial:
            yield f"{place}: version {serial} is missing before it"
            serial = version.serial
        if digest_of(version, before=digest) != version.digest:
            yield f"{place}: what stands on it does not give its digest"
        digest = version.digest


def postings_apart(first: int = 1) -> Iterator[str]:
    """Movements, from one on, that were not posted as the records say, or that no version posted."""
    posted = Posted.objects.filter(movement_id__gte=first)
    apart = (
        posted.exclude(
            Q(version__record=F("record"))
            & Q(movement__record_digest=F("version__digest"))
            & Q(movement__record_number=F("record__number"))
            & Q(movement__record_kind=F("record__kind"))
            & Q(movement__moment=F("moment"))
        )
        .order_by("movement_id")
        .values_list("movement_id", "record__number")
    )
    for movement, number in apart:
        yield f"movement {movement}: it was not posted as {number} says"
    unsaid = Movement.objects.filter(pk__gte=first).exclude(record_digest="").filter(posted__isnull=True).order_by("pk")
    for movement, number in unsaid.values_list("pk", "record_number"):
        yield f"movement {movement}: it carries the digest of a version of {number} that did not post it"


def _links() -> Iterator[str]:
    codes = dict(Account.objects.values_list("pk", "code"))
    for accounts in _together():
        held: _Counted = defaultdict(Counter)
        passed: _Counted = defaultdict(Counter)
        for content in Contents.objects.filter(account_id__in=accounts):
            held[content.account_id][content_row(content)] += 1
        for link in Link.objects.filter(account_id__in=accounts):
            passed[link.account_id or 0][link_row(link)] += 1
        for account, contents, made in links.followed(accounts):
            if held[account] != Counter(map(content_row, contents)):
                yield said_of_contents(codes.get(account, account))
            if passed[account] != Counter(map(link_row, made)):
                yield said_of_links(codes.get(account, account))
    for link in materials_apart():
        yield f"what passed from {link.giver} to {link.taker} is kept wrong"


def _together() -> Iterator[list[int]]:
    """Accounts that are followed, and any other that has contents or links, as many at a time as have some thousands of
    legs: one whose only row was moved to another account is looked at, and so is the other."""
    legs = dict(Leg.objects.order_by().values_list("account_id").annotate(Count("pk")))
    named = {pk for table in (Contents, Link) for (pk,) in table._base_manager.values_list("account_id").distinct()}
    # Only what a record posted was followed; entries made beneath the records belong to none.
    posted = Leg.objects.filter(movement__in=Posted.objects.values("movement_id")).values("account_id")
    named |= set(links.followed_accounts().filter(pk__in=posted).values_list("pk", flat=True))
    together: list[int] = []
    held = 0
    for account in sorted(pk for pk in named if pk is not None):
        if held + legs.get(account, 0) > LEGS and together:
            yield together
            together, held = [], 0
        together.append(account)
        held += legs.get(account, 0)
    yield together


def said_of_contents(account: object) -> str:
    """Contents of an account are not those that its legs make."""
    return f"account {account}: what it held, by the record that gave it, is kept wrong"


def said_of_links(account: object) -> str:
    """Links by way of an account are not those that its legs make."""
    return f"account {account}: what passed by it from record to record is kept wrong"


def content_row(row: Contents) -> tuple[object, ...]:
    """What contents say, to be compared."""
    try:
        shares: object = frozenset(row.by_giver().items())
    except ValueError:
        shares = row.shares
    return (row.happened_at, row.slot, row.book_ul, shares)


def link_row(row: Link) -> tuple[object, ...]:
    """What a link says, to be compared."""
    return (row.giver_id, row.taker_id, row.happened_at, row.slot, row.pure_ul, row.mass_g)
