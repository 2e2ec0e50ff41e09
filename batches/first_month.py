"""What a new site has to do before and in its first month, in order, and which of it the books say is done.

Worked out whenever it is asked for; nothing of it is kept, so that no tick can say what the books do not. What is done
stays in the books; what is not may be left for later, but for what a gauge cannot do without.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Count, Exists, OuterRef, Q
from django.urls import NoReverseMatch, reverse

from batches.models import Record
from batches.sheets.register import all_sheets
from batches.sheets.sheet import Sheet
from distillery import figures
from distillery.clock.reading import books_today
from distillery.pages import Link
from distillery.pen.models import EnrolledPC
from distillery.people.models import Person
from distillery.people.roles import CLOSERS, WRITERS
from distillery.plant.metrology import Certificate
from distillery.plant.models import CalibrationPoint, Instrument, Kind, Vessel
from distillery.plant.outfit import DIP, GRAVITY, STRENGTH, TEMPERATURE
from distillery.rules.models import ReviewThreshold
from distillery.rules.site_facts import Entered, SiteDetails, Statement
from ledger.periods.calendar import last_closing
from ledger.periods.models import StockPeriod

HERE: Final = "first_month"
PEOPLE_TO_CLOSE: Final = 2
# What the line from mash to new spirit cannot do without, by kind, and how many of each.
LINE: Final = {Kind.WASHBACK: 1, Kind.STILL: 2, Kind.RECEIVER: 2}
MEASURES: Final = {STRENGTH: "strength", TEMPERATURE: "temperature", DIP: "dips", GRAVITY: "gravity"}
# Mash, fermentation and the two runs.
RUNS_OF_THE_LINE: Final = 4


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do: its title, what the books say of it, and the ways to do it. `what` names a statement that may be
    made in its place; `wanted` is False for what a site may leave out."""

    title: str
    done: bool
    said: str
    why: str
    ways: Sequence[Link] = ()
    what: str = ""
    wanted: bool = True


def is_over() -> bool:
    """True once a period is closed: the site is no longer new."""
    return last_closing() is not None


def steps() -> list[Step]:
    """Everything in order, as the books stand now."""
    return list(_steps())


def next_of(found: Sequence[Step]) -> Step | None:
    """The first thing that is wanted and not done."""
    return next((one for one in found if one.wanted and not one.done), None)


def _steps() -> Iterator[Step]:
    stated = {one.what: one for one in Statement.objects.select_related("person").order_by("pk")}
    yield from _people()
    yield _pc()
    yield _details()
    yield from _plant()
    yield _instruments()
    yield _figures(stated.get(Statement.What.FIGURES))
    yield _periods(stated.get(Statement.What.MONTHS))
    yield _opening(stated.get(Statement.What.NOTHING_HELD))
    yield from _work()
    yield Step(
        "Close the first month",
        False,
        "No period is closed yet; this list stands until one is.",
        "One person asks, another agrees; what stands in the way is said with its page.",
        [Link("Books", reverse("books"))],
    )


def _people() -> Iterator[Step]:
    active = Person.objects.filter(is_active=True)
    managers = [one.shown_name for one in active.filter(groups__name__in=CLOSERS).distinct().order_by("pk")]
    yield Step(
        "A first manager",
        bool(managers),
        _listed(managers) or "No manager may sign on.",
        "A manager sets figures, answers enquiries and asks for a closing.",
        [Link("People", reverse("people"))],
    )
    others = active.filter(groups__name__in=WRITERS).distinct().count()
    yield Step(
        "A second person who writes",
        others >= PEOPLE_TO_CLOSE,
        f"{figures.count(others)} {'person writes' if others == 1 else 'people write'}.",
        "A period is closed by two people, and some records are signed by a second.",
        [Link("Add a person", _back("person_new"))],
    )


def _pc() -> Step:
    number = EnrolledPC.objects.filter(ended_at__isnull=True).count()
    return Step(
        "A PC of the site enrolled",
        number > 0,
        f"{figures.count(number)} enrolled." if number else "None yet.",
        "At an enrolled PC a PIN is enough. Do it at each PC that people of the site share.",
        [Link("Enrol this PC", _back("pc_enrol"))],
        wanted=False,
    )


def _details() -> Step:
    now = SiteDetails.objects.filter(from_day__lte=books_today()).order_by("-from_day", "-pk").first()
    return Step(
        "The site's name, address and approval",
        now is not None,
        f"{now.name}, from {figures.day(now.from_day, year=True)}." if now else "Not entered.",
        "Every page and every print bears them.",
        [Link("Enter name and approval", _back("site_setting_new", kind="details"))],
    )


def _plant() -> Iterator[Step]:
    has_table = Exists(CalibrationPoint.objects.filter(vessel=OuterRef("pk")))
    fixed = list(Vessel.objects.exclude(kind=Kind.CASK).annotate(has_table=has_table).order_by("order", "code"))
    have = {kind: sum(1 for one in fixed if one.kind == kind) for kind in Kind}
    missing = [
        f"{number - have[kind]} {kind.label.lower()}{'s' if number - have[kind] > 1 else ''}"
        for kind, number in LINE.items()
        if have[kind] < number
    ]
    yield Step(
        "Vessels",
        not missing,
        (f"{figures.count(len(fixed))} on the site. " if fixed else "None yet. ")
        + (f"Still wanted for the line: {', '.join(missing)}." if missing else "From washback to receiver."),
        "Washbacks, stills, receivers and vats, each with its code. Casks are numbered by a record.",
        [Link("Add a vessel", _back("vessel_new")), *_workbook()],
    )
    without = [one.code for one in fixed if one.kind != Kind.STILL and not one.has_table]
    dipped = [one for one in fixed if one.kind != Kind.STILL]
    yield Step(
        "Tables of the vessels",
        bool(dipped) and not without,
        f"Without a table: {_listed(without)}." if without else "Each has one." if dipped else "No vessel to dip yet.",
        "A table turns a dip into litres. Without it a vessel cannot be gauged.",
        [Link("Enter a vessel's table", _back("vessel_table"))],
    )


def _instruments() -> Step:
    known = set(Instrument.objects.values_list("measures", flat=True))
    missing = [word for measures, word in MEASURES.items() if measures not in known]
    certified = Certificate.objects.values("instrument").distinct().count()
    number = Instrument.objects.count()
    said = f"{figures.count(number)} on the site, {figures.count(certified)} with a certificate."
    return Step(
        "Instruments and their certificates",
        not missing,
        f"{said} Nothing yet for {_listed(missing)}." if missing else said,
        "Readings are corrected by the certificate. Without instruments plain glass of 20 °C is taken.",
        [
            Link("Add an instrument", _back("instrument_new")),
            Link("Enter a certificate", _back("instrument_certificate")),
        ],
    )


def _figures(stated: Statement | None) -> Step:
    own = Entered.objects.filter(table=ReviewThreshold._meta.db_table, person__isnull=False).count()
    said = "As the program brings them; nobody has looked through them."
    if own:
        said = f"{figures.count(own)} set by the site."
    elif stated is not None:
        said = f"Looked through by {stated.person.shown_name}, {figures.moment(stated.entered_at)}: they stand."
    return Step(
        "Review thresholds looked through",
        bool(own or stated),
        said,
        "From which size on a difference is looked into. They come from the trade; a site sets its own as it learns.",
        [Link("Review thresholds", reverse("site_setting", kwargs={"kind": "thresholds"}))],
        what=Statement.What.FIGURES,
    )


def _periods(stated: Statement | None) -> Step:
    first = StockPeriod.objects.order_by("first_day").first()
    said = "Calendar months, until a stock period is entered."
    if first is not None:
        said = f"Stock periods from {figures.day(first.first_day, year=True)}."
    elif stated is not None:
        said = f"Calendar months, says {stated.person.shown_name}, {figures.moment(stated.entered_at)}."
    return Step(
        "The first period of account",
        bool(first or stated),
        said,
        "A site that was allowed stock periods enters the first before anything of it is written.",
        [Link("Enter a stock period", reverse("stock_periods"))],
        what=Statement.What.MONTHS,
    )


def _opening(stated: Statement | None) -> Step:
    sheets = [sheet for sheet in all_sheets() if sheet.sets_up]
    number = Record.objects.filter(kind__in=[sheet.kind for sheet in sheets]).count()
    said = "Nothing is written yet."
    if number:
        said = f"{figures.count(number)} {'record' if number == 1 else 'records'} of opening stock."
    elif stated is not None:
        said = f"Nothing is held, says {stated.person.shown_name}, {figures.moment(stated.entered_at)}."
    return Step(
        "Opening stock",
        bool(number or stated),
        said,
        "Whatever the vessels, casks and bottles hold as the books begin is gauged once and entered.",
        [*(Link(sheet.title, reverse("record_new", args=[sheet.kind])) for sheet in sheets), *_workbook()],
        what=Statement.What.NOTHING_HELD,
    )


def _work() -> Iterator[Step]:
    sheets = _first_work()
    counted = {
        row["kind"]: row["number"]
        for row in Record.objects.filter(kind__in=[sheet.kind for sheet in sheets])
        .values("kind")
        .annotate(number=Count("pk", filter=~Q(number="")))
    }
    for sheet in sheets:
        number = counted.get(sheet.kind, 0)
        said = f"{figures.count(number)} {'record' if number == 1 else 'records'}." if number else "None yet."
        yield Step(
            f"First {sheet.title[0].lower()}{sheet.title[1:]}",
            number > 0,
            said,
            "",
            [Link(f"New {sheet.title.lower()}", reverse("record_new", args=[sheet.kind]))],
        )


def _first_work() -> list[Sheet]:
    """What comes in first, and the runs from the mash to new spirit, in the order of the work."""
    sheets = all_sheets()
    return [
        *[sheet for sheet in sheets if sheet.receives][:1],
        *[sheet for sheet in sheets if sheet.running is not None][:RUNS_OF_THE_LINE],
    ]


def _workbook() -> list[Link]:
    try:
        return [Link("Bring in a workbook", reverse("bring_in"))]
    except NoReverseMatch:
        return []


def _back(name: str, **kwargs: str) -> str:
    """A form's address that leads back here once it is saved."""
    return f"{reverse(name, kwargs=kwargs or None)}?then={HERE}"


def _listed(words: Sequence[str]) -> str:
    return ", ".join(words)
