"""The parts of a finding's page: its figures, what would explain it, the ways to put it right."""

from __future__ import annotations

from django.urls import reverse
from django.utils.http import urlencode

from distillery.figures import difference, difference_said, lpa, moment, percent, way
from distillery.pages import Cell, Column, Fact, Link, Row, Table
from distillery.plant.models import MICRO
from ledger.comparing.findings.finding import WATCH, BesideUsual, Finding
from ledger.comparing.findings.fitting import fit_beside
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.comparing.findings.unseen import Detectability
from ledger.models import Movement
from ledger.views.left_facts import left_facts
from ledger.views.ways import record_href
from ledger.words_of_columns import words_of

OR = "or"
MOST_RECORDS = 8


def facts_of(one: Finding) -> list[Fact]:
    """Figures of a finding, the threshold with its basis."""
    facts = [
        Fact("Record", one.record, href=record_href(one.record_kind, one.record)),
        Fact("Happened", moment(one.at, year=True)),
    ]
    if one.kind == WATCH:
        # It adds up many small losses: no single one of them is judged by the threshold.
        facts += [*([] if not one.in_ul else [Fact("Alcohol in", lpa(one.in_ul), "LPA")])]
        facts.append(Fact("Lasting difference in all", difference(one.difference_ul), "LPA"))
        facts.append(Fact("Two standard uncertainties", lpa(2 * one.uncertainty_ul), "LPA"))
    elif one.judged_against:
        facts += left_facts(
            one.difference_ul + one.explained_ul,
            one.explained_ul,
            against=(one.judged_against, one.in_ul),
            threshold_ul=one.threshold_ul,
            basis=one.basis,
            uncertainty_ul=one.uncertainty_ul,
        )
        if one.percent_of_in is not None:
            share = f"{percent(abs(one.percent_of_in), 2)} {way(one.difference_ul)}".strip()
            facts.append(Fact(f"Share of {one.judged_against}", share, "%"))
    if one.beside_usual is not None:
        facts += beside_usual_facts(one.beside_usual)
    if one.under:
        facts.append(Fact("The same cause explains", ", ".join(one.under)))
    if one.found_again:
        facts.append(
            Fact(
                "Found again at the next gauge",
                difference_said(-one.found_again_ul),
                note=f"in {one.found_again}: missing at one and found at the other is one reading, not a loss",
            )
        )
    return facts


def beside_usual_facts(one: BesideUsual) -> list[Fact]:
    """A figure that is no alcohol, what is usual, how far they are apart and how surely that is known."""
    return [Fact(name, figure, one.unit) for name, figure in one.said]


def _strength(line: CauseLine, first: CauseLine) -> str:
    """How well a line of causes explains it beside the first, in words; the statistic itself is in the JSON."""
    return "best" if line is first else str(fit_beside(line.statistic, first.statistic))


def likely_table(one: Finding) -> Table:
    """What would explain it, best first, with what each would leave; what cannot be told apart stands together."""
    rows: list[Row] = []
    for place, line in enumerate(one.lines, start=1):
        for member, cause in enumerate(line.causes):
            rows.append(
                Row(
                    [
                        Cell(OR if member else str(place)),
                        Cell(f"{cause.cause[:1].upper()}{cause.cause[1:]}"),
                        Cell(cause.record, href=record_href(cause.record_kind or one.record_kind, cause.record)),
                        Cell(words_of(cause.record_kind or one.record_kind, cause.field).label if cause.field else ""),
                        Cell(with_unit(cause, cause.written)),
                        Cell(with_unit(cause, cause.would_be)),
                        Cell(difference(round(cause.leaves_lpa * MICRO))),
                        Cell("" if member else _strength(line, one.lines[0])),
                    ]
                )
            )
    return Table(
        caption="What would explain it",
        note="best first; nothing is changed by it",
        columns=(
            Column("Place"),
            Column("What"),
            Column("Record"),
            Column("Reading"),
            Column("Written", numeric=True),
            Column("Would be", numeric=True),
            Column("Leaves", numeric=True, unit="LPA"),
            Column("Explains it"),
        ),
        rows=rows,
        empty=(
            "No single reading of the neighbouring gauges would close this. "
            "Look for a real loss, or for an entry that is missing."
        ),
        wide=True,
    )


def with_unit(cause: Likely, value: str) -> str:
    """A value of the reading a cause is about, with its unit; '' for none."""
    unit = words_of(cause.record_kind, cause.field).unit if cause.field else ""
    return f"{value} {unit}".strip() if value else ""


def told_apart_by(one: Finding) -> list[str]:
    """A sentence for each line of causes that fit equally well: what to look at next to tell them apart."""
    said = []
    for place, line in enumerate(one.lines, start=1):
        if len(line.causes) > 1 and line.look_next:
            said.append(f"The figures of place {place} fit equally well. To tell: {line.look_next}")
        elif line.look_next:
            said.append(f"For place {place}: {line.look_next}")
    return said


def better_table(seen: Detectability) -> Table:
    """Which better instrument would let a smaller loss be seen here, the one that buys most first."""
    return Table(
        caption="What a better instrument would show here",
        note="the smallest loss seen in nine cases of ten",
        columns=(Column("Instrument"), Column("Smallest loss seen", numeric=True, unit="LPA")),
        rows=[
            Row([Cell("those in use now"), Cell(lpa(round(seen.detectable * MICRO)))]),
            *(Row([Cell(one.instrument), Cell(lpa(round(one.detectable * MICRO)))]) for one in seen.better),
        ],
        empty="No other instrument was tried.",
    )


def records_of(one: Finding) -> list[tuple[str, str]]:
    """The records whose readings stand on both sides of a finding, as (kind, number)."""
    if one.kind == WATCH:
        return [(run.record_kind, run.record) for run in one.runs]
    kinds = {one.record: one.record_kind}
    kinds |= {cause.record: cause.record_kind for cause in one.likely if cause.record_kind}
    asked = {one.found_again, *one.under[:MOST_RECORDS]} - {"", *kinds}
    kinds |= dict(Movement.objects.filter(record_number__in=asked).values_list("record_number", "record_kind"))
    return [(kind, record) for record, kind in kinds.items()][:MOST_RECORDS]


def enquire_link(one: Finding) -> Link:
    """The way to open an enquiry on the record of a finding; of what lasts, on all its runs as a whole."""
    address = reverse("enquiry_open", kwargs={"kind": one.record_kind, "record": one.record})
    if one.kind == WATCH:
        asked = urlencode({"whole": one.key})
        return Link(f"Open an enquiry on all {len(one.runs)} runs", f"{address}?{asked}")
    return Link("Open an enquiry", address)
