"""A fermentation with what was read along its way, up to a moment: gravities, steadiness, alcohol."""

from __future__ import annotations

from datetime import date, datetime
from functools import cached_property

from batches.models import Mention, Record, State
from batches.running.steady import steady_hour
from batches.sheets.completed import Completed
from batches.steps.shared.figures import hours, number_in, told_number
from distillery.alcoholometry.gravity import wash_percent
from distillery.clock.reading import site_day

# What is noted of foam along the way.
FOAMING, FOAMED_OVER = "foaming", "foamed over"


class Course:
    """A fermentation with what was read along its way, up to a moment."""

    def __init__(self, written: Completed, now: datetime) -> None:
        self.written = written
        self.begun = written.moment("pitched_at")
        self.ended = written.moment("ended_at") if written.has("ended_at") else None
        self.asked = now
        self.until = self.ended or now
        self.day: date = site_day(self.begun)

    def read(self, quantity: str) -> list[tuple[float, float]]:
        """(hours since pitching, figure) of a quantity, in order of time."""
        field = self.written.sheet.reading(quantity)
        assert field is not None
        found = [
            (hours(self.begun, at), number_in({quantity: typed}, field))
            for at, typed in self.written.site.logged(self.written.number, quantity)
            if at <= self.until
        ]
        return [(hour, value) for hour, value in found if value is not None]

    def noted(self, quantity: str) -> list[tuple[datetime, str]]:
        """When what was noted in words, in order of time."""
        logged = self.written.site.logged(self.written.number, quantity)
        return [(at, said) for at, said in logged if at <= self.until]

    @cached_property
    def gravities(self) -> list[tuple[float, float]]:
        """Hours and gravities, that of the end among them."""
        found = self.read("gravity")
        if self.ended is not None and self.written.has("final_gravity"):
            found.append((hours(self.begun, self.ended), self.written.real("final_gravity")))
        return found

    @cached_property
    def original(self) -> float | None:
        """The original gravity, any addition for work in it."""
        return self.written.real("original_gravity") if self.written.has("original_gravity") else None

    @cached_property
    def litres(self) -> float | None:
        """What was set, litres: by the dip at setting, else the wort of its mash."""
        return set_litres(self.written)

    @cached_property
    def steady(self) -> float | None:
        """The hour from which on the gravity is steady; None while it is not."""
        return steady_hour(self.gravities, self.day)

    def lpa_at(self, gravity: float) -> float | None:
        """Pure alcohol that is made by the time the wash is at a gravity, LPA; None without litres or original."""
        if self.original is None or self.litres is None or gravity > self.original:
            return None
        table = self.written.site.gravities(self.day)
        return self.litres * wash_percent(original_gravity=self.original, present_gravity=gravity, table=table) / 100.0


def set_litres(written: Completed) -> float | None:
    """Litres that were set: by the dip of the washback, else what its mash says went there; None where neither does."""
    if written.has("set_dip_mm") and written.has("washback"):
        table = written.site.table(written.vessel("washback"))
        return table.litres(dip_mm=written.real("set_dip_mm")).litres
    return told_number(written, written.record("mash"), "wort_litres") if written.has("mash") else None


def first_charge(number: str) -> datetime | None:
    """When wash of a fermentation was first charged to a still; None before. One query."""
    named = Record.objects.filter(mentions__what=Mention.What.RECORD, mentions__code=number).exclude(state=State.VOID)
    first = named.order_by("happened_from", "pk").first()
    return first.happened_from if first is not None else None
