"""Which records' bottles bear the lot that a record takes out of bottled stock, so that links follow that lot alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Q, QuerySet

from batches.models import Mention
from batches.sheets.register import all_sheets
from batches.sheets.sheet import Sheet


def lot_fields(sheet: Sheet) -> list[str]:
    """The fields of a sheet that name a lot of bottled spirit, and not one of materials."""
    of_material = {name for one in (*sheet.materials, *sheet.receives, *sheet.counts) for name in one.fields}
    return [one.name for one in sheet.fields if one.lot and one.name not in of_material]


def of_the_same_lot(records: Iterable[tuple[str, str]]) -> dict[int, frozenset[int]]:
    """By key of each of these records, given by kind and number, that takes bottles of a lot which it names: the keys
    of those by which bottles of that lot came into stock. Two questions, and none where no record takes bottles.
    """
    taking = {one.kind for one in all_sheets() if one.bottles_leave is not None or one.takes_bottles}
    numbers = {number for kind, number in records if kind in taking}
    if not numbers:
        return {}
    named = dict(_naming(taking).filter(record__number__in=numbers).values_list("record_id", "code"))
    if not named:
        return {}
    bringing = {one.kind for one in all_sheets() if one.fills_bottles or one.takes_bottles}
    bearing = _bearing(bringing, set(named.values()))
    return {key: frozenset(bearing.get(code.casefold(), ())) for key, code in named.items()}


def bottled_before(records: Iterable[tuple[str, str]]) -> dict[int, frozenset[int]]:
    """By key of each of these records, given by kind and number, by which bottles of a lot that it names come back: the
    keys of those by which that lot was bottled. Two questions, and none where nothing comes back.
    """
    returning = {one.kind for one in all_sheets() if one.comes_back is not None}
    numbers = {number for kind, number in records if kind in returning}
    if not numbers:
        return {}
    named = dict(_naming(returning).filter(record__number__in=numbers).values_list("record_id", "code"))
    filling = {one.kind for one in all_sheets() if one.fills_bottles}
    bottled = _bearing(filling, set(named.values())) if named else {}
    return {key: frozenset(bottled.get(code.casefold(), ())) for key, code in named.items()}


def _bearing(kinds: Iterable[str], codes: Iterable[str]) -> dict[str, set[int]]:
    """By lot, in small letters, the keys of records of these kinds that name it."""
    bearing: dict[str, set[int]] = defaultdict(set)
    for key, code in _naming(kinds).values_list("record_id", "code").filter(_any_of(codes)):
        bearing[code.casefold()].add(key)
    return bearing


def _naming(kinds: Iterable[str]) -> QuerySet[Mention]:
    there = Q(pk__in=())
    for sheet in all_sheets():
        if sheet.kind in kinds:
            there |= Q(record__kind=sheet.kind, field__in=lot_fields(sheet))
    return Mention.objects.filter(there, what=Mention.What.LOT)


def _any_of(codes: Iterable[str]) -> Q:
    there = Q(pk__in=())
    for code in sorted(codes):
        there |= Q(code__iexact=code)
    return there
