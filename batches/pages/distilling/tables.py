"""The lists of distillation periods, and of the runs and mashes of one."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from batches.distilling.in_the_way import InTheWay
from batches.distilling.yields import Yield
from distillery import figures, pages
from distillery.lists.columns import FigureColumn, ListColumn, LpaColumn, MomentColumn
from distillery.lists.tables import HouseTable

OPEN = pages.State(pages.Kind.OPEN, "Open")


def record_of(kind: str, number: str) -> str:
    """The address of a record."""
    return reverse("record", args=[kind, number])


def _period(row: Yield) -> str:
    return reverse("distillation_period", args=[row.period.number])


def verdict(row: Yield) -> str:
    """What is said of a period's yield in a word or two; blank where it is judged and usual."""
    if row.period.ended_at is None:
        return "Open"
    if not row.mashes:
        return ""
    return "" if row.settling.judged else "not judged"


class PeriodTable(HouseTable):
    """Every distillation period with what it made of its malt, the newest first."""

    number = ListColumn("Period", "period__number", href=_period)
    spirits = ListColumn("Class of spirits", "period__spirits")
    opened = MomentColumn("Opened", "period__opened_at")
    ended = MomentColumn("Ended", "period__ended_at", none="still open")
    mashes = FigureColumn("Mashes", lambda row: len(row.mashes))
    malt = FigureColumn("Malt", "malt_kilograms", unit="kg")
    made = LpaColumn("Spirit made", "made_ul")
    feints_open = LpaColumn("Feints, opening", "feints_open_ul")
    feints_close = LpaColumn("Feints, closing", "feints_close_ul")
    found = FigureColumn("Yield", "lpa_per_tonne", places=1, unit="LPA/t", none="none")
    sure = FigureColumn("±", "u95_lpa_per_tonne", places=1, unit="LPA/t", none="none")
    predicted = FigureColumn("Malt promised", "predicted", places=1, unit="LPA/t", none="not known")
    efficiency = FigureColumn("Of that", "efficiency", places=1, unit="%", none="not known")
    said = ListColumn("State", verdict)

    name, caption = "periods", "Distillation periods"
    note = "feints: low wines and feints; while a period is open, by the books"
    nothing = "No distillation period yet. Open one, and the runs charged from then on belong to it."


class RunOfPeriodTable(HouseTable):
    """The runs of a period in the order they were charged."""

    number = ListColumn(
        "Run", "run__record__number", href=lambda row: record_of(row.run.record.kind, row.run.record.number)
    )
    what = ListColumn("What", "run__sheet__title")
    charged = MomentColumn("Charged", "run__charged_at")
    wash = ListColumn("Wash of", "run__wash_of")
    charged_lpa = LpaColumn("Charged with", "charged_ul")
    recovered = LpaColumn("Recovered", "recovered_ul")
    made = LpaColumn("Spirit made", lambda row: row.made_ul if row.run.makes_spirit else None)

    name, caption = "runs", "Its runs"
    nothing = "No run was charged in it yet."


class MashOfPeriodTable(HouseTable):
    """The mashes of a period, each with the share of its wash that was charged."""

    mash = ListColumn("Mash", "mash__number", href=lambda row: record_of(row.mash.kind, row.mash.number))
    wash = ListColumn("Wash", "wash__number", href=lambda row: record_of(row.wash.kind, row.wash.number))
    malt = FigureColumn("Malt", "malt_kilograms", unit="kg")
    share = FigureColumn("Charged here", lambda row: 100.0 * row.share, places=1, unit="% of its wash")
    charged = LpaColumn("Wash charged", "charged_ul")
    reached = FigureColumn("Wash a tonne", "wash_per_tonne", places=1, unit="LPA/t", none="none")
    predicted = FigureColumn("Malt promised", "predicted", places=1, unit="LPA/t", none="not known")
    efficiency = FigureColumn("Of that", "efficiency", places=1, unit="%", none="not known")

    name, caption = "mashes", "Its mashes"
    note = "wash as its fermentation declared it, before the stills"
    nothing = "No wash was charged in it."


class RunWithoutPeriodTable(HouseTable):
    """The last runs that belong to no period."""

    number = ListColumn("Run", "record__number", href=lambda row: record_of(row.record.kind, row.record.number))
    what = ListColumn("What", "sheet__title")
    charged = MomentColumn("Charged", "charged_at")
    spirits = ListColumn("Class of spirits", "distils__spirits")

    name, caption = "without", "Runs that belong to no period"
    nothing = "Every run belongs to a period."


def ways_past(found: list[InTheWay]) -> list[pages.Link]:
    """What stands in the way of an end as links to where it is settled."""
    return [pages.Link(one.sentence, record_of(one.kind, one.number)) for one in found]


def plain(row: Yield) -> dict[str, Any]:
    """A period as plain data: pure alcohol in litres as text with all its decimals, malt in kg."""
    period = row.period

    def lpa(pure_ul: int) -> str:
        return figures.lpa(pure_ul, 6, figures.PLAIN)

    return {
        "period": period.number,
        "spirit_class": period.spirits,
        "opened_at": period.opened_at.isoformat(),
        "ended_at": period.ended_at.isoformat() if period.ended_at else "",
        "spirit_made_lpa": lpa(row.made_ul),
        "feints_open_lpa": lpa(row.feints_open_ul),
        "feints_close_lpa": lpa(row.feints_close_ul),
        "malt_kg": round(row.malt_kilograms, 3),
        "yield_lpa_per_tonne": row.lpa_per_tonne,
        "yield_u95_lpa_per_tonne": row.u95_lpa_per_tonne,
        "predicted_lpa_per_tonne": row.predicted,
        "efficiency_percent": row.efficiency,
        "judged": bool(period.ended_at and row.mashes and row.settling.judged),
        "runs": [
            {
                "run": line.run.record.number,
                "kind": line.run.record.kind,
                "charged_at": line.run.charged_at.isoformat(),
                "charged_lpa": lpa(line.charged_ul),
                "recovered_lpa": lpa(line.recovered_ul),
                "spirit_made_lpa": lpa(line.made_ul),
            }
            for line in row.runs
        ],
        "mashes": [
            {
                "mash": line.mash.number,
                "fermentation": line.wash.number,
                "malt_kg": line.malt_kilograms,
                "share_charged": round(line.share, 6),
                "wash_lpa_per_tonne": line.wash_per_tonne,
                "predicted_lpa_per_tonne": line.predicted,
            }
            for line in row.mashes
        ],
    }
