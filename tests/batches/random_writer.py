"""Somebody who writes whatever comes: corrections, records made void and written again late, rules, certificates.

Everything is drawn from a seed; what the program refuses is left alone. The figures are invented.
"""

from __future__ import annotations

import random
from contextlib import nullcontext
from datetime import date
from decimal import Decimal

from django.db import transaction

from batches.models import Record, State
from batches.records import recording, versions
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from distillery.plant.keeping.measuring import Unkeepable, add_calibration, add_certificate
from distillery.plant.models import Instrument, Kind, Vessel
from distillery.rules.setting.figures import set_threshold
from ledger.posting.drafts import Refused


class Writer:
    """Draws and writes. `alone` says that no transaction is open around it, as where a process writes by itself."""

    def __init__(self, seed: int, staff: Person, manager: Person, *, alone: bool = False) -> None:
        self.dice = random.Random(seed)
        self.alone = alone
        self.staff, self.manager = staff, manager
        self.voided: list[Record] = []
        self.number = seed * 1000

    def write(self) -> str:
        """One thing more; gives what it was, blank where it was refused."""
        ways = (
            [self.correct] * 6
            + [self.make_void] * 2
            + [self.write_late] * 3
            + [self.rule, self.certificate, self.table]
        )
        way = self.dice.choice(ways)
        try:
            with nullcontext() if self.alone else transaction.atomic():
                way()
        except (Unfit, Refused, Unkeepable, recording.Asked):
            return ""
        return way.__name__

    def _any(self) -> Record:
        there = Record.objects.exclude(state=State.VOID).exclude(kind__startswith="opening").order_by("pk")
        return there[self.dice.randrange(there.count())]

    def correct(self) -> None:
        record = self._any()
        typed, _ = versions.typed_of(versions.newest(record))
        figures = [name for name, value in sorted(typed.items()) if _is_figure(name, value)]
        if not figures:
            raise Refused("nothing to correct")
        name = self.dice.choice(figures)
        off = self.dice.choice((0.1, 1, 10, 100))
        value = f"{float(typed[name]) + self.dice.choice((-1, 1)) * off:.1f}".removesuffix(".0")
        recording.correct(record, {name: value}, person=self.staff, reason="read again", sure=True)

    def make_void(self) -> None:
        record = self._any()
        recording.void(record, person=self.staff, reason="was not done")
        self.voided.append(record)

    def write_late(self) -> None:
        if not self.voided:
            raise Refused("nothing was made void")
        record = self.voided.pop()
        typed, lines = versions.typed_of(versions.newest(record))
        recording.save(record.kind, None, typed, lines, person=self.staff, sure=True)

    def rule(self) -> None:
        self.number += 1
        set_threshold(
            operation=self.dice.choice(("spirit run", "wash run", "transfer")),
            from_day=date(2027, 3, self.dice.randint(1, 28)),
            usual_percent=Decimal("0.3"),
            usual_half_width_percent=Decimal("0.2"),
            spread_percent=Decimal("0.5"),
            threshold_percent=Decimal(self.dice.randint(1, 40)) / 10,
            floor_lpa=Decimal(1),
            source=f"letter {self.number} of the test",
        )

    def certificate(self) -> None:
        self.number += 1
        every = list(Instrument.objects.order_by("pk"))
        add_certificate(
            instrument=self.dice.choice(every),
            number=f"C{self.number}",
            issuer="a laboratory of the test",
            issued_on=date(2027, 2, 1),
            from_day=date(2027, 3, self.dice.randint(1, 28)),
            standard_uncertainty=Decimal(self.dice.randint(1, 9)) / 10,
            person=self.manager,
        )

    def table(self) -> None:
        vessels = list(Vessel.objects.exclude(kind__in=(Kind.CASK, Kind.STILL)).order_by("pk"))
        add_calibration(
            vessel=self.dice.choice(vessels),
            from_day=date(2027, 3, self.dice.randint(1, 28)),
            standard_percent=Decimal(self.dice.randint(1, 5)) / 10,
            source="measured for the test",
            person=self.manager,
        )


def _is_figure(name: str, value: str) -> bool:
    return any(unit in name for unit in ("_mm", "_celsius", "_percent", "_litres", "_gravity", "_kg")) and bool(value)
