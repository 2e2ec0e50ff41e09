"""What the books must say after a crew has been at work. Each function gives sentences on what is wrong, or nothing."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from tests.faults import small_plant


def all_there(acknowledged: Mapping[str, Mapping[str, str]], corrected: Sequence[tuple[str, str]]) -> list[str]:
    """Every record and correction that was acknowledged is there, with what was typed, once."""
    from batches.models import Version
    from ledger.models import Movement

    wrong = []
    versions = Version.objects.filter(record__number__in=acknowledged).order_by("serial")
    typed: dict[str, list[dict[str, str]]] = {}
    for number, values in versions.values_list("record__number", "values"):
        typed.setdefault(number, []).append(json.loads(values))
    posted = list(Movement.objects.filter(record_number__in=acknowledged).values_list("record_number", flat=True))
    for number, sheet in acknowledged.items():
        if number not in typed:
            wrong.append(f"{number} was acknowledged and is not there")
        elif typed[number][0] != dict(sheet):
            wrong.append(f"{number} says {typed[number][0]}, but {sheet} was sent")
        if posted.count(number) != 1:
            wrong.append(f"{number} is in the books {posted.count(number)} times")
    for number, document in corrected:
        times = sum(values["document"] == document for values in typed.get(number, [])[1:])
        if times != 1:
            wrong.append(f"the correction of {number} to {document} is there {times} times")
    return wrong


def nothing_else(acknowledged: Mapping[str, Mapping[str, str]], corrected: Sequence[tuple[str, str]]) -> list[str]:
    """All that is there was acknowledged; asked once everybody has an answer."""
    from batches.models import Record, Version

    wrong = all_there(acknowledged, corrected)
    unknown = Record.objects.filter(kind__in=("transfer", "removal")).exclude(number__in=acknowledged).count()
    again = Version.objects.filter(serial__gt=1).count()
    if unknown or again != len(corrected):
        wrong.append(f"unknown records: {unknown}; {again} later versions for {len(corrected)} corrections")
    return wrong


def proven() -> list[str]:
    """The proof of the ledger's seals and sums."""
    from ledger.proof.proving import prove

    return list(prove().broken)


def held_where_it_must_be(dips: Mapping[str, int], acknowledged: Mapping[str, Mapping[str, str]]) -> list[str]:
    """Tank by tank to the microlitre, bottles by count, nothing below nothing, and no difference anywhere."""
    from ledger.models import Balance, Movement, MovementKind, RunningBalance

    wrong = []
    books = dict(Balance.objects.values_list("account__code", "balance_ul"))
    for code, dip in dips.items():
        if books[f"vessel:{code}"] != dip * small_plant.MILLIMETRE_PURE_UL:
            wrong.append(f"{code} holds {books[f'vessel:{code}']}, must hold {dip * small_plant.MILLIMETRE_PURE_UL}")
    tanks = sum(books[f"vessel:{code}"] for code in dips)
    first = len(dips) * small_plant.FIRST_DIP_MM * small_plant.MILLIMETRE_PURE_UL
    if tanks != first:
        wrong.append(f"the tanks hold {tanks} together, and held {first} at first")
    wrong += [f"{code} is {pure}" for code, pure in books.items() if code.startswith("difference:") and pure]
    removed = sum(int(sheet["bottles"]) for sheet in acknowledged.values() if "bottles" in sheet)
    [stock] = [pure for code, pure in books.items() if code.startswith("stock:")]
    if stock != (small_plant.BOTTLES - removed) * small_plant.BOTTLE_PURE_UL or stock < 0:
        wrong.append(f"the bottles hold {stock}; {removed} of {small_plant.BOTTLES} were removed")
    held = RunningBalance.objects.filter(account__kind__in=("vessel", "stock"), balance_ul__lt=0).count()
    if held:
        wrong.append(f"{held} books were below nothing at some moment")
    if Movement.objects.exclude(kind=MovementKind.OPERATION).exists():
        wrong.append("something was restated or corrected, though every gauge met its book")
    return wrong
