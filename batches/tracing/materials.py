"""What was issued to a record and lies in no account: malt to its mash, a mash to its fermentation.

The sheet says which (`Sheet.materials`). A link by weight carries whole grams, and the pure alcohol that was made of
it in the end; one without a weight carries the pure alcohol that the record declares. Where a silo was drawn on, each
of its lots has a link of its own, and the alcohol is parted by what was drawn of each. Whole microlitres.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from itertools import groupby, islice

from django.db.models import Q, QuerySet, Sum

from batches.models import Link, Mention, Record, State
from batches.sheets.register import all_sheets, sheet_of
from batches.sheets.sheet import Kind, Material, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read_number
from batches.stores.kinds import Act
from batches.stores.models import StockEntry
from batches.tracing.mix import apportion
from ledger.models import AccountKind, Entry, Leg

GRAMS_A_KILOGRAM = 1000
# Links read at a time.
CHUNK = 500


def linked_by(sheet: Sheet) -> list[Material]:
    """What is issued to a step by naming the record it came from. What is named by its lot is in no chain of alcohol:
    the book of the lot joins the two.
    """
    return [one for one in sheet.materials if sheet.field(one.field).kind == Kind.RECORD]


def link_materials(record: Record, typed: Mapping[str, str]) -> None:
    """Links a record to what was issued to it, as it stands on what is `typed`."""
    for material in linked_by(sheet_of(record.kind)):
        _link(record, material, typed)


def _link(record: Record, material: Material, typed: Mapping[str, str]) -> None:
    named = Mention.objects.filter(record=record, field=material.field, what=Mention.What.RECORD).values_list("code")
    kind = sheet_of(record.kind).field(material.field).record_kind
    earlier = list(Link.objects.filter(taker=record, account=None, giver__kind=kind).select_related("giver"))
    Link.objects.filter(pk__in=[link.pk for link in earlier]).delete()
    drawn = _drawn_by([record.pk], material, kind)[record.pk]
    standing = Record.objects.filter(Q(number__in=named) | Q(pk__in=drawn)) if record.state != State.VOID else ()
    givers = list(standing)
    grams = drawn or dict.fromkeys((giver.pk for giver in givers), _grams(record, material, typed))
    passed = _parted(_passed(record, material), drawn)
    Link.objects.bulk_create(
        Link(
            giver=giver,
            taker=record,
            happened_at=record.happened_from,
            pure_ul=passed(giver.pk),
            mass_g=grams[giver.pk],
        )
        for giver in givers
    )
    # What the giver was made of is behind this too; one that is no longer named must not keep what it is not behind.
    for giver in {link.giver for link in earlier} | set(givers):
        _carry_back(giver)


def _carry_back(record: Record) -> None:
    for material in linked_by(sheet_of(record.kind)):
        if material.weighed:
            kind = sheet_of(record.kind).field(material.field).record_kind
            behind = Link.objects.filter(taker=record, account=None, giver__kind=kind)
            drawn = _drawn_by([record.pk], material, kind)[record.pk]
            passed = _parted(_passed(record, material), drawn)
            if not drawn:
                behind.update(pure_ul=passed(0))
                continue
            for link in behind:
                behind.filter(pk=link.pk).update(pure_ul=passed(link.giver_id))


def _drawn_by(records: Collection[int], material: Material, giver_kind: str) -> dict[int, dict[int, int]]:
    """Grams that records have drawn of the lots of a silo, by record and by the record that received the lot."""
    drawn: dict[int, dict[int, int]] = defaultdict(dict)
    if not material.drawn_from:
        return drawn
    entries = StockEntry.objects.standing().filter(version__record__in=records, act=Act.ISSUED).exclude(silo="")
    sums = list(entries.values_list("version__record", "lot__code").annotate(Sum("said")).order_by())
    codes = {code for _record, code, _grams in sums}
    received = dict(Record.objects.filter(kind=giver_kind, number__in=codes).values_list("number", "pk"))
    for record, code, grams in sums:
        drawn[record][received[code]] = grams
    return drawn


def _parted(passed: int, drawn: dict[int, int]) -> Callable[[int], int]:
    """What of the alcohol of a record goes by the link to one giver: by what was drawn of each, else all of it."""
    parts = apportion(passed, drawn)
    return (lambda giver: parts.get(giver, 0)) if drawn else (lambda _giver: passed)


def materials_apart() -> Iterator[Link]:
    """Links by what was issued that are not what the records say."""
    site = Site()
    links = Link.objects.filter(account=None).select_related("giver", "taker").order_by("pk").iterator(chunk_size=CHUNK)
    while together := list(islice(links, CHUNK)):
        takers = {link.taker_id: link.taker for link in together}
        site.read_typed(takers.values())
        named = set(
            Mention.objects.filter(record__in=takers, what=Mention.What.RECORD).values_list("record", "field", "code")
        )
        given, declared = _given_by_each(takers), _declared_by_each(takers.values())
        drawn = _drawn_by_each(takers)
        for link in together:
            material = _material(link)
            if material is None:
                yield link
                continue
            taker = link.taker
            passed = given[taker.pk] if material.weighed else declared[taker.kind, taker.number]
            of_silo = drawn[taker.kind, material.field][taker.pk] if material.drawn_from else {}
            grams = of_silo.get(link.giver_id, 0) if of_silo else _grams(taker, material, site.typed_of(taker))
            said = (taker.happened_from, 0, _parted(passed, of_silo)(link.giver_id), grams)
            as_kept = (link.happened_at, link.slot, link.pure_ul, link.mass_g)
            is_named = (taker.pk, material.field, link.giver.number) in named or link.giver_id in of_silo
            if as_kept != said or not is_named:
                yield link


def _drawn_by_each(takers: Mapping[int, Record]) -> dict[tuple[str, str], dict[int, dict[int, int]]]:
    """What records have drawn of silos, by the kind of record and the field that names no lot there."""
    drawn = {}
    for sheet in (sheet_of(kind) for kind in {one.kind for one in takers.values()}):
        of_kind = [pk for pk, one in takers.items() if one.kind == sheet.kind]
        for one in linked_by(sheet):
            drawn[sheet.kind, one.field] = _drawn_by(of_kind, one, sheet.field(one.field).record_kind)
    return drawn


def unlinked_materials() -> Iterator[str]:
    """A sentence for each thing issued that a record names and that has not exactly one link."""
    for sheet in all_sheets():
        for material in linked_by(sheet):
            links = Link.objects.filter(
                account=None, taker__kind=sheet.kind, giver__kind=sheet.field(material.field).record_kind
            )
            linked = Counter(links.values_list("taker__number", "giver__number").iterator())
            for (taker, giver), times in linked.items():
                if times > 1:
                    yield f"{taker}: what it took from {giver} is kept {times} times"
            named = (
                Mention.objects.filter(record__kind=sheet.kind, field=material.field, what=Mention.What.RECORD)
                .exclude(record__state=State.VOID)
                .order_by("record_id")
                .values_list("record__number", "code")
            )
            for taker, pairs in groupby(named.iterator(), key=lambda pair: pair[0]):
                for _, giver in pairs:
                    if (taker, giver) not in linked:
                        yield f"{taker}: nothing says what it took from {giver}, which it names"
            for taker, giver in _drawn_pairs(sheet, material):
                if (taker, giver) not in linked:
                    yield f"{taker}: nothing says what it took from {giver}, which it has drawn on"


def _drawn_pairs(sheet: Sheet, material: Material) -> Iterator[tuple[str, str]]:
    if material.drawn_from:
        entries = StockEntry.objects.standing().filter(version__record__kind=sheet.kind, act=Act.ISSUED)
        pairs = entries.exclude(silo="").values_list("version__record__number", "lot__code").distinct().order_by()
        yield from pairs.iterator()


def _material(link: Link) -> Material | None:
    sheet = sheet_of(link.taker.kind)
    fitting = (one for one in linked_by(sheet) if sheet.field(one.field).record_kind == link.giver.kind)
    return next(fitting, None)


def said_of(link: Link) -> str:
    """What was handed on, in words, where the sheet says it; of links that are no account's."""
    material = _material(link) if link.account_id is None else None
    return material.said if material is not None else ""


def _grams(record: Record, material: Material, typed: Mapping[str, str]) -> int:
    if not material.weighed:
        return 0
    try:
        kilograms = read_number(sheet_of(record.kind).field(material.weighed), typed.get(material.weighed, ""))
    except Unreadable:
        return 0
    return int(kilograms * GRAMS_A_KILOGRAM)


def _passed(record: Record, material: Material) -> int:
    return _given_by(record) if material.weighed else _declared(record)


def _given_by(record: Record) -> int:
    return _given_by_each([record.pk])[record.pk]


def _given_by_each(records: Iterable[int]) -> dict[int, int]:
    sums = Link.objects.filter(giver__in=records, account=None).values_list("giver").annotate(Sum("pure_ul"))
    return defaultdict(int, sums.order_by())


def _declared(record: Record) -> int:
    return declared_legs(record).aggregate(pure=Sum("pure_ul"))["pure"] or 0


def _declared_by_each(records: Iterable[Record]) -> dict[tuple[str, str], int]:
    """By kind and number of the record."""
    numbers: dict[str, list[str]] = defaultdict(list)
    for record in records:
        numbers[record.kind].append(record.number)
    found: dict[tuple[str, str], int] = defaultdict(int)
    for kind, some in numbers.items():
        legs = _declaring().filter(movement__record_kind=kind, movement__record_number__in=some)
        found |= {
            (kind, number): pure
            for number, pure in legs.values_list("movement__record_number").annotate(Sum("pure_ul")).order_by()
        }
    return found


def declared_legs(record: Record) -> QuerySet[Leg]:
    """Legs by which a record brought alcohol into a vessel. Its kind is named too, since the index begins with it."""
    return _declaring().filter(movement__record_kind=record.kind, movement__record_number=record.number)


def _declaring() -> QuerySet[Leg]:
    return Leg.objects.filter(account__kind=AccountKind.VESSEL, entry=Entry.FLOW)
