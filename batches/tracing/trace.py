"""Where something came from and where it went: the chain of links followed back and forward, with shares.

Back from a record, vessel, cask or lot: every record whose alcohol is in it. Forward from it: every record, cask,
vessel and stock that holds or took some of it. The alcohol of a link is shared out by the mix that was in the vessel,
so shares multiply along the chain; feints that go round again pass through the same kind of record more than once, and
each passing is told.

`pure_ul` is the alcohol concerned, `of_all` its share of what was asked about, and `share` its share of all that is
told of the same kind, so that the shares of each kind sum to one. `of_itself` is, going forward, how much of what the
record took or the account holds is of what was asked about.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Sum

from batches.models import Link, Record
from batches.tracing.links import UNKNOWN, contents_of
from batches.tracing.not_known import NotKnown, not_known
from batches.tracing.reached import contents_now, links_ahead, links_behind, links_into_and_out_of, links_through
from batches.tracing.references import NoSuchReference, Reference, refer, traced_kind
from batches.tracing.walk import Back, Forward, go_back, go_forward
from ledger.models import Account, AccountKind, Entry, Leg

__all__ = ["NoSuchReference", "Trace", "Traced", "follow_trace", "refer", "trace_back", "trace_forward"]

LEAST_OF_ALL: Final = 1e-9
# More keys than this are not put into one question.
MANY: Final = 10_000


@dataclass(frozen=True, slots=True)
class Traced:
    """One record, cask, vessel or stock at the end or on the way of a trace; `record_id` or `account_id` is its key."""

    record: str
    kind: str
    pure_ul: int
    share: float
    of_all: float
    of_itself: float = 0.0
    record_id: int | None = None
    account_id: int | None = None


@dataclass(frozen=True, slots=True)
class Trace:
    """Both ways from one place. `behind_ul` is the alcohol followed back, `ahead_ul` the alcohol followed forward.

    `held` is what accounts hold of it now, by account and by the record that gave it, microlitres.
    """

    start: Reference
    behind_ul: float
    ahead_ul: float
    back: list[Traced]
    forward: list[Traced]
    behind: Back
    ahead: Forward
    held: Mapping[int, Mapping[int, float]]
    not_known: list[NotKnown]


@dataclass(frozen=True, slots=True)
class _Row:
    name: str
    pure_ul: float
    of_all: float
    of_itself: float = 0.0
    record_id: int | None = None
    account_id: int | None = None


def trace_back(ref: str) -> list[Traced]:
    """Every record whose alcohol is in what the number refers to, nearest kind first. Raises NoSuchReference."""
    return _backward(refer(ref))[2]


def trace_forward(ref: str) -> list[Traced]:
    """Every record, cask, vessel and stock that took or holds some of it. Raises NoSuchReference."""
    return _onward(refer(ref))[3]


def follow_trace(start: Reference) -> Trace:
    """Both ways from what a number refers to, with the ways between and what cannot be known."""
    behind, behind_ul, back, unnamed = _backward(start)
    ahead, held, ahead_ul, forward = _onward(start)
    left = not_known(behind.left, behind_ul, unnamed)
    return Trace(start, behind_ul, ahead_ul, back, forward, behind, ahead, held, left)


def _backward(start: Reference) -> tuple[Back, float, list[Traced], float]:
    """The walk, the alcohol asked about, the records found, and the share of it that no record gave."""
    fractions: dict[int, float] = defaultdict(float)
    unnamed = 0.0
    if start.account is not None:
        held = contents_of(start.account.pk) or _last_held(start.account)
        whole = sum(held.values())
        for giver, pure in held.items():
            if giver != UNKNOWN:
                fractions[giver] += pure / whole
            else:
                unnamed = pure / whole
        asked_ul = float(whole)
    else:
        amounts = _through(start.records)
        asked_ul = sum(amounts.values())
        for pk in start.records:
            fractions[pk] = amounts[pk] / asked_ul if asked_ul else 1 / len(start.records)
    walked = go_back(links_behind(list(fractions)), fractions)
    own = set(start.records)
    found = {pk: part for pk, part in walked.parts.items() if pk not in own and part > LEAST_OF_ALL}
    return walked, asked_ul, _told([(pk, part * asked_ul, part, 0.0) for pk, part in found.items()]), unnamed


def _onward(start: Reference) -> tuple[Forward, dict[int, dict[int, float]], float, list[Traced]]:
    """The walk, what accounts hold of it now by its giver, the alcohol asked about, and what was found."""
    if start.account is not None:
        links = links_through(start.account.pk)
        walked = go_forward(links, (), start.account.pk)
        asked_ul = float(sum(one.pure_ul for one in links if one.account == start.account.pk))
    else:
        walked = go_forward(links_ahead(start.records), start.records)
        asked_ul = sum(_through(start.records).values())
    held, whole = _held_of(walked.parts, without=start.account)
    told = _told(
        [
            (pk, pure, pure / asked_ul if asked_ul else 0.0, walked.parts.get(pk, 0.0))
            for pk, pure in walked.amounts.items()
        ]
    )
    return walked, held, asked_ul, told + _places(held, whole, walked.passed, asked_ul)


def _through(records: Sequence[int]) -> dict[int, float]:
    """The alcohol of each record: what it took by way of vessels or mashes, or what it gave where it is an origin."""
    took: dict[int, int] = defaultdict(int)
    gave: dict[int, int] = defaultdict(int)
    for giver, taker, pure in links_into_and_out_of(records):
        took[taker] += pure
        gave[giver] += pure
    without = [pk for pk in records if not took[pk]]
    numbers = dict(Record.objects.filter(pk__in=without).values_list("pk", "number"))
    entering = Leg.objects.filter(
        movement__record_number__in=list(numbers.values()),
        account__kind__in=(AccountKind.VESSEL, AccountKind.STOCK),
        entry=Entry.FLOW,
    )
    sums = entering.values_list("movement__record_number").annotate(Sum("pure_ul")).order_by() if numbers else ()
    entered = dict(sums)
    return {pk: float(took[pk] or max(gave[pk], entered.get(numbers[pk], 0))) for pk in records}


def _last_held(account: Account) -> dict[int, int]:
    """What was in an empty vessel before it was last drawn: the givers of the last movement that took from it."""
    last = Link.objects.filter(account=account).order_by("happened_at", "slot").last()
    if last is None:
        return {}
    held: dict[int, int] = defaultdict(int)
    for giver, pure in Link.objects.filter(account=account, happened_at=last.happened_at, slot=last.slot).values_list(
        "giver_id", "pure_ul"
    ):
        held[giver] += pure
    return held


def _held_of(
    parts: Mapping[int, float], *, without: Account | None
) -> tuple[dict[int, dict[int, float]], dict[int, int]]:
    """What accounts hold now of the records that carry some of it, by giver, and all that these accounts hold."""
    held: dict[int, dict[int, float]] = {}
    whole: dict[int, int] = {}
    if not parts:
        return held, whole
    for account, by_giver in contents_now(parts):
        if without is not None and account == without.pk:
            continue
        carrying = {giver: pure * parts[giver] for giver, pure in by_giver.items() if parts.get(giver)}
        if carrying:
            held[account], whole[account] = carrying, sum(by_giver.values())
    return held, whole


def _told(amounts: Sequence[tuple[int, float, float, float]]) -> list[Traced]:
    """Records with their shares among their own kind, in the order of the process and largest first."""
    keys = [pk for pk, _pure, _part, _own in amounts]
    records = {pk: (kind, number) for pk, kind, number in _kinds_and_numbers(keys)}
    by_kind: dict[str, list[_Row]] = {}
    for pk, pure, part, own in amounts:
        kind, number = records[pk]
        by_kind.setdefault(traced_kind(kind), []).append(_Row(number, pure, part, own, record_id=pk))
    return _shared(by_kind)


def _kinds_and_numbers(keys: Sequence[int]) -> list[tuple[int, str, str]]:
    # Where nearly all records are reached, one reading of the table costs less than looking each up.
    rows = Record.objects.all() if len(keys) > MANY else Record.objects.filter(pk__in=keys)
    return list(rows.values_list("pk", "kind", "number"))


def _places(
    held: Mapping[int, Mapping[int, float]], whole: Mapping[int, int], passed: Mapping[int, float], asked_ul: float
) -> list[Traced]:
    """Casks, vessels and bottled stock that hold some of it now; casks also where it has left them again."""
    accounts = {one.pk: one for one in Account.objects.filter(pk__in={*held, *passed}).select_related("vessel")}
    by_kind: dict[str, list[_Row]] = {}
    for pk, account in accounts.items():
        is_cask = account.vessel is not None and account.vessel.kind == "cask"
        here = sum(held.get(pk, {}).values())
        pure = here + (passed.get(pk, 0.0) if is_cask else 0.0)
        if pure <= 0:
            continue
        kind = "cask" if is_cask else "vessel" if account.vessel is not None else "bottled stock"
        code = account.vessel.code if account.vessel is not None else account.code.removeprefix("stock:")
        part, own = pure / asked_ul if asked_ul else 0.0, here / whole[pk] if whole.get(pk) else 0.0
        by_kind.setdefault(kind, []).append(_Row(code, pure, part, own, account_id=pk))
    return _shared(by_kind)


def _shared(by_kind: Mapping[str, Sequence[_Row]]) -> list[Traced]:
    told = []
    for kind, rows in by_kind.items():
        whole, parts = sum(row.pure_ul for row in rows), sum(row.of_all for row in rows)
        told += [
            Traced(
                row.name,
                kind,
                round(row.pure_ul),
                # The lots of a mash that is not fermented yet have no alcohol to share, only weights.
                row.pure_ul / whole if whole else row.of_all / parts if parts else 1 / len(rows),
                row.of_all,
                row.of_itself,
                row.record_id,
                row.account_id,
            )
            for row in sorted(rows, key=lambda row: (-row.pure_ul, row.name))
        ]
    return told
