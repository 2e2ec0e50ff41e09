"""Duty on some containers: the greatest of the volumes that are said of one, the strength on its label, the rate of a
day.

Where label, invoice, delivery note or like document differ, the greatest volume counts (SI 2023/806, regulation 2 and
Schedule 1). Rates and roundings are the site's dated data with their sources; it is a sum to look ahead by, no return.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, Final

from django import forms

from distillery import figures
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.bench.answer import Answer
from distillery.bench.boxes import BenchForm, Refusal, amount, percent
from distillery.pages import Fact
from distillery.rules.in_force import NoRuleInForce, duty_on_line

GREATEST: Final = "SI 2023/806, regulation 2 and Schedule 1"
HUNDREDTHS_A_POUND: Final = 10_000


class DutyForm(BenchForm):
    """So many containers alike, at a strength, on a day."""

    title = "Duty on containers"
    doubtful = "containers"

    containers = forms.IntegerField(label="Containers", min_value=1, max_value=10_000_000)
    label_centilitres = amount("Volume on the label", "cL", initial="70")
    document_centilitres = amount(
        "On an invoice or delivery note", "cL", required=False, help_text="The largest, where any says otherwise."
    )
    label_percent = percent("Strength on the label")
    day = forms.DateField(label="Day of the duty point", required=False, help_text="As 2026-11-02; blank is today.")

    def work(self, given: dict[str, Any]) -> Answer:
        volumes = [Decimal(repr(given[name] or 0.0)) for name in ("label_centilitres", "document_centilitres")]
        greatest = max(volumes)
        if not greatest:
            raise Refusal("label_centilitres", "This is nothing: enter the volume that stands on the label.")
        litres = greatest * given["containers"] / 100
        on: date = given["day"] or self.bench.today
        try:
            due = duty_on_line(on, litres, Decimal(repr(given["label_percent"])))
        except NoRuleInForce as none:
            raise Refusal("day", str(none)) from none
        per_lpa = due.rate.pence_hundredths_per_lpa
        return Answer(
            facts=(
                Fact("Volume of each that counts", figures.number(greatest, 1), "cL"),
                Fact("Litres", figures.number(litres, 2), "L"),
                Fact("Strength for duty", figures.percent(due.percent), "% vol"),
                Fact("Pure alcohol", figures.number(due.lpa, 4), "LPA"),
                Fact("Rate", figures.pounds(per_lpa // 100), "£ a LPA", note=figures.day(on, year=True)),
                Fact("Duty", figures.pounds(due.pence), "£"),
            ),
            steps=(
                ChainStep("Volume of each", float(greatest), "cL", "the greatest that is said of it", GREATEST),
                ChainStep("Pure alcohol", float(due.lpa), "LPA", "litres × strength / 100", GREATEST),
                ChainStep(
                    "Duty", due.pence / 100, "£", f"× {per_lpa / HUNDREDTHS_A_POUND:.2f}, rounded", due.rate.source
                ),
            ),
            notes=(
                "Actual volume and strength count where due care was not taken; the law and the officer decide.",
                "A sum to look ahead by; what a return is prepared from stands in the books.",
            ),
        )
