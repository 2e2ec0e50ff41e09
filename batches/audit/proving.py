"""Proves the batch records as far as paper shows them: versions, what each posted, and the links between records.

Every version's digest is worked out again from what is stored and from the version before it. Every movement that was
posted from a version carries the digest of one that is there. Links and contents are followed again from the legs.
Readings along the way and the records' own rows are held against their trail, which the ledger's proof does.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

from django.db.models import Count, F, Q, QuerySet, Window
from django.db.models.functions import Lag

from batches.audit.versions_read import written_versions
from batches.models import Contents, Link, Posted, Reading, Record, Version
from batches.records.versions import digest_of_line, line_of
from batches.tracing import links
from batches.tracing.materials import materials_apart
from distillery.database.rows_as_kept import MomentText, moment_of, rows_of
from ledger.models import Account, Leg, Movement
from ledger.proof.clock_back import places

LEGS = 5000


def prove_records() -> Iterator[str]:
    """One sentence for each place of the batch records that does not hold."""
    yield from _versions()
    yield from postings_apart()
    yield from _links()


def remark_on_records() -> Iterator[str]:
    """Where the clock ran back between two versions or two readings, in the order in which they were written."""
    for pair in _apart_in_time(Version):
        written = Version.objects.filter(pk__in=pair).order_by("pk")
        versions = written.values_list("record__number", "serial", "written_at")
        yield from places((f"version {serial} of {number}", at) for number, serial, at in versions)
    for pair in _apart_in_time(Reading):
        readings = Reading.objects.filter(pk__in=pair).order_by("pk").values_list("record__number", "written_at")
        yield from places((f"a reading of {number}", at) for number, at in readings)


def _apart_in_time(table: type[Version] | type[Reading]) -> list[tuple[int, int]]:
    """Rows that say an earlier time than the row before them, and that row; the database looks through all of them."""
    beside = table._base_manager.annotate(
        before=Window(Lag("id"), order_by="id"), before_at=Window(Lag("written_at"), order_by="id")
    ).filter(written_at__lt=F("before_at"))
    return list(beside.order_by("id").values_list("before", "id"))


def _versions() -> Iterator[str]:
    yield from versions_apart(Version.objects.all(), {})
    for number in Record.objects.filter(versions__isnull=True).values_list("number", flat=True):
        yield f"{number}: the record has no version"


def versions_apart(versions: QuerySet[Version], before: Mapping[int, tuple[int, str]]) -> Iterator[str]:
    """Versions whose digest is not that of what stands on them, and numbers left out.

    `before` has, of each record, serial and digest of the version before the first that is looked at, if there is one.
    """
    record, serial, digest = 0, 0, ""
    for of, kept, said in written_versions(versions):
        if of != record:
            record = of
            serial, digest = before.get(record, (0, ""))
        serial += 1
        number, own = said[1:3]
        place = f"{number}, version {own}"
        if own != serial:
            yield f"{place}: version {serial} is missing before it"
            serial = own
        try:
            line = line_of(said, before=digest)
        except (ValueError, TypeError) as unreadable:
            yield f"{place}: it cannot be read ({unreadable})"
        else:
            if digest_of_line(line) != kept:
                yield f"{place}: what stands on it does not give its digest"
        digest = kept


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
        held, passed = kept_by_account(Q(account_id__in=accounts))
        for account, contents, made in links.followed(accounts):
            if not same_contents(held[account], contents):
                yield said_of_contents(codes.get(account, account))
            if Counter(passed[account]) != Counter(made):
                yield said_of_links(codes.get(account, account))
    for link in materials_apart():
        yield f"what passed from {link.giver} to {link.taker} is kept wrong"


def kept_by_account(chosen: Q) -> tuple[dict[int, list[links.Held]], dict[int, list[links.Passed]]]:
    """Contents and links that are kept, by their accounts."""
    held: dict[int, list[links.Held]] = defaultdict(list)
    columns = ("account_id", MomentText("happened_at"), "slot", "book_ul", "shares")
    for account, at, *more in rows_of(Contents.objects.filter(chosen), *columns):
        held[account].append(links.Held(moment_of(at), *more))
    passed: dict[int, list[links.Passed]] = defaultdict(list)
    of_link = ("account_id", "giver_id", "taker_id", MomentText("happened_at"), "slot", "pure_ul", "mass_g")
    for account, giver, taker, at, *more in rows_of(Link.objects.filter(chosen), *of_link):
        passed[account].append(links.Passed(giver, taker, moment_of(at), *more))
    return held, passed


def same_contents(kept: Sequence[links.Held], followed: Sequence[links.Held]) -> bool:
    """True where both say the same, whatever the order in which shares are written."""
    if Counter(kept) == Counter(followed):
        return True
    return Counter(map(_by_giver, kept)) == Counter(map(_by_giver, followed))


def _by_giver(held: links.Held) -> tuple[object, ...]:
    try:
        return (*held[:3], frozenset((int(giver), pure) for giver, pure in json.loads(held.shares).items()))
    except ValueError:
        return held


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
