"""A trace as it was first written: every link of the site read, in order of time, and gone through one by one.

What the walk of what is reached must agree with to the last digit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Sum

from batches.models import Contents, Link, Record
from batches.sheets.register import sheet_of
from batches.tracing.links import UNKNOWN, contents_of
from batches.tracing.trace import LEAST_OF_ALL, Traced, refer
from ledger.models import Account, AccountKind, Entry, Leg


@dataclass(slots=True)
class _Chain:
    """All links in order of time, with how much each record took in all."""

    links: list[tuple[int, int, int | None, float]]
    taken: dict[int, float]
    pure: list[int]


def plain_back(ref: str) -> list[Traced]:
    """Every record whose alcohol is in what the number refers to, nearest kind first. Raises NoSuchReference."""
    start = refer(ref)
    chain = _chain()
    fractions: dict[int, float] = defaultdict(float)
    if start.account is not None:
        held = contents_of(start.account.pk) or _last_held(start.account)
        whole = sum(held.values())
        for giver, pure in held.items():
            if giver != UNKNOWN:
                fractions[giver] += pure / whole
        asked_ul = float(whole)
    else:
        amounts = {pk: _through(pk, chain) for pk in start.records}
        asked_ul = sum(amounts.values())
        for pk in start.records:
            fractions[pk] = amounts[pk] / asked_ul if asked_ul else 1 / len(start.records)
    own = set(start.records)
    for giver, taker, _account, weight in reversed(chain.links):
        if fractions.get(taker) and chain.taken[taker]:
            fractions[giver] += fractions[taker] * weight / chain.taken[taker]
    found = {pk: fraction for pk, fraction in fractions.items() if pk not in own and fraction > LEAST_OF_ALL}
    return _told([(pk, fraction * asked_ul, fraction) for pk, fraction in found.items()])


def plain_forward(ref: str) -> list[Traced]:
    """Every record, cask, vessel and stock that took or holds some of it. Raises NoSuchReference."""
    start = refer(ref)
    chain = _chain()
    part: dict[int, float] = dict.fromkeys(start.records, 1.0)
    own = set(start.records)
    amounts: dict[int, float] = defaultdict(float)
    weights: dict[int, float] = defaultdict(float)
    passed: dict[int, float] = defaultdict(float)
    for (giver, taker, account, weight), pure in zip(chain.links, chain.pure, strict=True):
        through_start = start.account is not None and account == start.account.pk
        fraction = 1.0 if through_start else part.get(giver, 0.0)
        if not fraction or taker in own:
            continue
        amounts[taker] += pure * fraction
        weights[taker] += weight * fraction
        if account is not None and not through_start:
            passed[account] += pure * fraction
        part[taker] = weights[taker] / chain.taken[taker] if chain.taken[taker] else 0.0
    asked_ul = sum(_through(pk, chain) for pk in own) or sum(
        pure
        for link, pure in zip(chain.links, chain.pure, strict=True)
        if start.account is not None and link[2] == start.account.pk
    )
    held = _held_of(part, without=start.account)
    told = _told([(pk, pure, pure / asked_ul if asked_ul else 0.0) for pk, pure in amounts.items()])
    return told + _places(held, passed, asked_ul)


def _chain() -> _Chain:
    """The links in order of time. Malt has no alcohol of its own: a mash's lots share it by weight."""
    rows = list(
        Link.objects.order_by("happened_at", "slot", "pk").values_list(
            "giver_id", "taker_id", "account_id", "pure_ul", "mass_g"
        )
    )
    taken: dict[int, float] = defaultdict(float)
    links: list[tuple[int, int, int | None, float]] = []
    for giver, taker, account, pure, mass in rows:
        weight = float(mass or pure or 1) if account is None else float(pure)
        links.append((giver, taker, account, weight))
        taken[taker] += weight
    return _Chain(links, taken, [row[3] for row in rows])


def _through(record_id: int, chain: _Chain) -> float:
    """The alcohol of a record: what it took by way of vessels or mashes, or what it gave where it is an origin."""
    took = sum(pure for link, pure in zip(chain.links, chain.pure, strict=True) if link[1] == record_id)
    if took:
        return float(took)
    gave = sum(pure for link, pure in zip(chain.links, chain.pure, strict=True) if link[0] == record_id)
    number = Record.objects.values_list("number", flat=True).get(pk=record_id)
    entered = (
        Leg.objects.filter(
            movement__record_number=number,
            account__kind__in=(AccountKind.VESSEL, AccountKind.STOCK),
            entry=Entry.FLOW,
        ).aggregate(pure=Sum("pure_ul"))["pure"]
        or 0
    )
    return float(max(gave, entered))


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


def _held_of(part: dict[int, float], *, without: Account | None) -> dict[int, float]:
    """What accounts hold now of the records that carry some of it."""
    held: dict[int, float] = defaultdict(float)
    newest: dict[int, Contents] = {}
    for row in Contents.objects.order_by("happened_at", "slot"):
        newest[row.account_id] = row
    for account_id, row in newest.items():
        if without is not None and account_id == without.pk:
            continue
        for giver, pure in row.by_giver().items():
            if part.get(giver):
                held[account_id] += pure * part[giver]
    return held


def _told(amounts: Sequence[tuple[int, float, float]]) -> list[Traced]:
    """Records with their shares among their own kind, in the order of the process and largest first."""
    records = {record.pk: record for record in Record.objects.filter(pk__in=[pk for pk, _pure, _part in amounts])}
    by_kind: dict[str, list[tuple[str, float, float]]] = {}
    for pk, pure, part in amounts:
        record = records[pk]
        by_kind.setdefault(sheet_of(record.kind).traced_as or record.kind, []).append((record.number, pure, part))
    return _shared(by_kind)


def _places(held: dict[int, float], passed: dict[int, float], asked_ul: float) -> list[Traced]:
    """Casks, vessels and bottled stock that hold some of it now; casks also where it has left them again."""
    accounts = {
        account.pk: account for account in Account.objects.filter(pk__in={*held, *passed}).select_related("vessel")
    }
    by_kind: dict[str, list[tuple[str, float, float]]] = {}
    for pk, account in accounts.items():
        is_cask = account.vessel is not None and account.vessel.kind == "cask"
        pure = held.get(pk, 0.0) + (passed.get(pk, 0.0) if is_cask else 0.0)
        if pure <= 0:
            continue
        kind = "cask" if is_cask else "vessel" if account.vessel is not None else "bottled stock"
        code = account.vessel.code if account.vessel is not None else account.code.removeprefix("stock:")
        by_kind.setdefault(kind, []).append((code, pure, pure / asked_ul if asked_ul else 0.0))
    return _shared(by_kind)


def _shared(by_kind: dict[str, list[tuple[str, float, float]]]) -> list[Traced]:
    told = []
    for kind, rows in by_kind.items():
        whole, parts = sum(pure for _name, pure, _part in rows), sum(part for _name, _pure, part in rows)
        told += [
            # The lots of a mash that is not fermented yet have no alcohol to share, only weights.
            Traced(name, kind, round(pure), pure / whole if whole else part / parts if parts else 1 / len(rows), part)
            for name, pure, part in sorted(rows, key=lambda row: (-row[1], row[0]))
        ]
    return told
