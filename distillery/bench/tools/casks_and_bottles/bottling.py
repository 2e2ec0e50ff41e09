"""Bottles checked against the packers' rules and the label, and where the alcohol drawn for a bottling went.

Sums: `distillery.process.bottling`. The tolerable negative errors, how many may be below T1 and how far a strength may
lie from its label are the site's dated figures, each with its source.
"""

from __future__ import annotations

import re
from typing import Any, Final

from django import forms

from distillery import figures
from distillery.alcoholometry.gauging.chain import ChainStep
from distillery.bench.answer import Answer, result
from distillery.bench.boxes import REQUIRED, BenchForm, Figure, Refusal, amount, beside, percent
from distillery.pages import Fact, Kind, State
from distillery.process.bottling import OnTheLine, label_lpa, limits, overfill_lpa, packages, within_label
from distillery.rules.in_force import NoRuleInForce, usual_figure
from distillery.rules.packaged import error_bands
from distillery.typed.meaning import NotAFigure, figure

FEW: Final = "packages below T1, most"
OF_LABEL: Final = "strength beside its label, most"
RULES: Final = "Packaged Goods Regulations 2006 (SI 2006/659)"
WORKED: Final = "process arithmetic"
MOST_FILLS = 200


class FillsForm(BenchForm):
    """Contents of some bottles, and a strength beside the label."""

    title = "Bottles checked"
    doubtful = "fills"

    nominal_ml = amount("Nominal quantity", "mL", initial="700")
    fills = forms.CharField(
        label="Contents of each bottle at 20 °C",
        max_length=4_000,
        help_text="In mL, one after another with blanks between: 700.4 701 699.8",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={"required": REQUIRED},
    )
    label_percent = percent("Strength on the label", required=False)
    measured_percent = percent("Strength measured at 20 °C", required=False)

    def work(self, given: dict[str, Any]) -> Answer:
        today = self.bench.today
        try:
            bands, few = error_bands(today), self._set(FEW)
            with beside("nominal_ml"):
                held_to = limits(given["nominal_ml"], bands)
            with beside("fills"):
                found = packages(self._fills(given["fills"]), held_to, few_percent=few)
            facts = [
                Fact("Tolerable negative error", figures.number(held_to.error_ml, 1), "mL"),
                Fact("T1", figures.number(held_to.t1_ml, 1), "mL"),
                Fact("T2", figures.number(held_to.t2_ml, 1), "mL"),
                _kept("Mean", f"{figures.number(found.mean_ml, 2)} mL", kept=found.mean_keeps),
                _kept("Below T1", f"{found.below_t1} of {found.number}", kept=found.few_below_t1),
                _kept("Below T2", f"{found.below_t2} of {found.number}", kept=found.none_below_t2),
                *self._label(given),
            ]
        except NoRuleInForce as none:
            raise Refusal("nominal_ml", str(none)) from none
        return Answer(
            facts=tuple(facts),
            steps=(
                ChainStep("T1", held_to.t1_ml, "mL", "nominal − tolerable negative error", held_to.source or RULES),
                ChainStep("T2", held_to.t2_ml, "mL", "nominal − 2 × tolerable negative error", held_to.source or RULES),
                ChainStep("Mean", found.mean_ml, "mL", "sum of the contents / bottles", RULES),
            ),
            notes=(
                f"Three rules hold of a batch: its mean is at least the nominal quantity, at most {few:g} % are below "
                f"T1, none is below T2 ({RULES}).",
                "Some bottles tell of those bottles; how many are taken and when is the packer's plan.",
            ),
        )

    def _fills(self, text: str) -> list[float]:
        parts = re.split(r"[\s;]+", text.strip())
        if len(parts) > MOST_FILLS:
            raise Refusal("fills", f"These are {len(parts)} bottles: enter at most {MOST_FILLS} at a time.")
        try:
            return [float(figure(part, unit="mL")) for part in parts]
        except NotAFigure as refused:
            raise Refusal("fills", f"One of them cannot be read: {refused}") from refused

    def _label(self, given: dict[str, Any]) -> list[Fact]:
        label, measured = given["label_percent"], given["measured_percent"]
        if label is None or measured is None:
            return []
        most = self._set(OF_LABEL)
        kept = within_label(declared_percent=label, measured_percent=measured, tolerance_percent=most)
        way = "below" if measured < label else "above"
        apart = f"{figures.number(abs(measured - label), 2)} % vol {way} it, at most {most:g}"
        return [_kept("Beside the label", apart, kept=kept)]

    def _set(self, name: str) -> float:
        row = usual_figure(name, self.bench.today)
        if row is None or row.expected is None:
            raise NoRuleInForce(f"No figure is set for {name}. The manager sets one that starts on or before today.")
        return row.expected


class LineLossForm(BenchForm):
    """What was drawn from the vat for a bottling, and what came of it."""

    title = "Loss of a bottling line"
    doubtful = "drawn_lpa"

    drawn_lpa = amount("Drawn from the vat", "LPA")
    bottles = forms.IntegerField(label="Bottles filled", min_value=1, max_value=10_000_000)
    centilitres = amount("Bottle", "cL", initial="70")
    label_percent = percent("Strength on the label")
    returned_lpa = amount("Poured back", "LPA", initial="0")
    samples_lpa = amount("Samples", "LPA", initial="0")
    over_ml = Figure("Mean fill over its label", "mL", required=False, help_text="Below it with a minus.")

    def work(self, given: dict[str, Any]) -> Answer:
        bottles, label = given["bottles"], given["label_percent"]
        out = label_lpa(bottles=bottles, centilitres=given["centilitres"], label_percent=label)
        line = OnTheLine(given["drawn_lpa"], out, given["returned_lpa"], given["samples_lpa"])
        with beside("drawn_lpa"):
            share = line.lost_percent
        way = "over" if line.lost_lpa < 0 else "missing"
        facts = [
            result("In bottles by their label", out, "LPA", 3),
            Fact("Line loss", f"{figures.number(abs(line.lost_lpa), 3)} LPA {way}", note=f"{share:.2f} % of it"),
        ]
        if given["over_ml"] is not None:
            over = overfill_lpa(millilitres_each=given["over_ml"], bottles=bottles, percent20=label)
            facts.append(result("Of it in the bottles, over their label", over, "LPA", 3))
        return Answer(
            facts=tuple(facts),
            steps=(
                ChainStep("In bottles", out, "LPA", "bottles × contents × strength / 100", WORKED),
                ChainStep("Line loss", line.lost_lpa, "LPA", "drawn − in bottles − poured back − samples", WORKED),
                ChainStep("Share", share, "%", "line loss / (drawn − poured back)", WORKED),
            ),
            notes=("No share makes a loss acceptable in law; each is recorded with its cause.",),
        )


def _kept(label: str, said: str, *, kept: bool) -> Fact:
    """A normal figure has no state; one that breaks a rule says so."""
    return Fact(label, said, state=None if kept else State(Kind.OUT, "Breaks the rule"))
