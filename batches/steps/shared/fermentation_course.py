"""A fermentation with what was read along its way, up to a moment: gravities, steadiness, alcohol."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import cached_property

from batches.models import Mention, Record, State
from batches.running.like_batches import curve_of
from batches.running.runs import Run, runs_of
from batches.running.steady import steady_hour
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Note
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.read_sheet import read_so_far
from batches.steps.shared.figures import hours
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
        """(hours since pitching, figure) of a quantity, in order of time; gravities at 20 °C."""
        field = self.written.sheet.reading(quantity)
        if field is None or self._run is None:
            return []
        ahead = hours(self.begun, self._run.begun)
        found = [(ahead + hour, value) for hour, value in curve_of(self._run, field)]
        return [(hour, value) for hour, value in found if hour <= hours(self.begun, self.until)]

    @cached_property
    def _run(self) -> Run | None:
        record = self.written.site.record(self.written.sheet.kind, self.written.number)
        # One that is only read, and saved nowhere, has no readings to ask for.
        if record is None or record.pk is None:
            return None
        return next(iter(runs_of([record])), None)

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
    return written.site.told_number(written.record("mash"), "wort_litres") if written.has("mash") else None


def first_charge(number: str) -> datetime | None:
    """When wash of a fermentation was first charged to a still; None before. One query."""
    named = Record.objects.filter(mentions__what=Mention.What.RECORD, mentions__code=number).exclude(state=State.VOID)
    first = named.order_by("happened_from", "pk").first()
    return first.happened_from if first is not None else None


def charged_unsteady(written: Completed) -> list[Note]:
    """Wash that is charged before its gravity was steady, where gravities were read at all."""
    record = written.record("fermentation")
    fermented = read_so_far(
        sheet_of(record.kind), written.site.typed_of(record), site=written.site, number=record.number
    )
    if not fermented.has("pitched_at"):
        return []
    course, charged = Course(fermented, written.moment("charged_at")), written.moment("charged_at")
    steady = course.begun + timedelta(hours=course.steady) if course.steady is not None else None
    if len(course.gravities) < 2 or (steady is not None and steady <= charged):
        return []
    said = (
        f"gravity of {record.number} was not steady when it was charged, last read {course.gravities[-1][1]:.4f}: "
        "what ferments on in the still foams over, and its alcohol is not declared."
    )
    return [Note("charged_at", None, said)]
