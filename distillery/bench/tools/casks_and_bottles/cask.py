"""Weigh a cask: gross and tare in air, temperature and hydrometer, to kilograms, litres and pure alcohol."""

from __future__ import annotations

from typing import Any

from django import forms

from distillery.bench.answer import Answer, Carry, contribution_table, result
from distillery.bench.boxes import (
    BenchForm,
    Figure,
    Refusal,
    amount,
    beside,
    instrument_box,
    obscuration,
    offer_instruments,
    strength_instrument_of,
    temperature,
)
from distillery.bench.cautions import CASKS, NOT_CARRIED, remarks_on
from distillery.bench.instruments import STRENGTH
from distillery.plant.gauges import by_weight
from distillery.plant.models import Cask, Kind


class CaskForm(BenchForm):
    """A cask on the scale."""

    title = "Weigh a cask"
    doubtful = "hydrometer_percent"
    caution = CASKS

    cask = forms.CharField(
        label="Cask",
        required=False,
        max_length=40,
        help_text="Its number, to take the tare on record and to carry the result on.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    gross_kg = amount("Gross weight", "kg")
    tare_kg = amount("Tare", "kg", required=False, help_text="Blank takes the tare on record.")
    celsius = temperature("Temperature of the sample")
    hydrometer_percent = Figure("Hydrometer reading", "% vol", required=False)
    instrument = instrument_box()
    obscuration_percent = obscuration()

    def prepare(self) -> None:
        offer_instruments(self, "instrument", STRENGTH)

    def work(self, given: dict[str, Any]) -> Answer:
        cask = self._cask(given["cask"])
        gross, tare = given["gross_kg"], self._tare(given["tare_kg"], cask)
        outfit = self.bench.outfit(given["instrument"], vessel=cask.vessel if cask else None)
        if gross > tare:
            strength_instrument_of(outfit)
        if gross > tare and given["hydrometer_percent"] is None:
            raise Refusal("hydrometer_percent", "The cask is not empty: take a hydrometer reading and enter it.")
        with beside("obscuration_percent"):
            outfit = self.bench.obscured(outfit, given["obscuration_percent"])
        with beside("gross_kg" if gross < tare else "hydrometer_percent"):
            chain = by_weight(
                outfit, gross_kg=gross, tare_kg=tare, celsius=given["celsius"], reading=given["hydrometer_percent"]
            )
        scale = outfit.corrections.scale
        net = scale.corrected(gross, "gross weight") - scale.corrected(tare, "tare") if gross > tare else 0.0
        remarks = remarks_on(celsius=given["celsius"], percent20=chain.quantity.percent20) if gross > tare else ()
        carried = self.bench.as_records(outfit, cask.vessel if cask else None)
        quantity = chain.quantity
        return Answer(
            facts=(
                result("Pure alcohol", quantity.lpa, "LPA", 3, quantity.uncertainty_ul / 1e6),
                result("Volume at 20 °C", quantity.litres20, "L", 2, chain.uncertainty_litres20),
                result("True strength at 20 °C", quantity.percent20, "% vol", 2, chain.uncertainty_percent),
                result("True mass", quantity.mass_g / 1000.0, "kg", 2, chain.uncertainty_kilograms),
                result("Net weight in air", net, "kg", 1, outfit.uncertainty.kilograms * 2**0.5),
            ),
            steps=chain.steps,
            contributions=contribution_table(chain.contributions),
            remarks=remarks,
            notes=(
                "A scale shows weight in air; the true mass is about a thousandth more.",
                "Wood soaks: the tare of an old cask is not what it was when new. Weigh it when it is emptied.",
                *(() if carried else (NOT_CARRIED,)),
            ),
            carries=self._carries(given, tare, cask) if carried else (),
        )

    def _cask(self, code: str) -> Cask | None:
        if not code.strip():
            return None
        vessel = self.bench.plant.vessel_meant(code)
        if vessel is None or vessel.kind != Kind.CASK:
            raise Refusal("cask", f"There is no cask {code.strip()} in the plant: check the number, or leave it blank.")
        return vessel.cask

    def _tare(self, typed: float | None, cask: Cask | None) -> float:
        if typed is not None:
            return typed
        if cask is None or cask.tare_g is None:
            raise Refusal("tare_kg", "No tare is on record here: enter the weight of the empty cask.")
        return cask.tare_g / 1000.0

    def _carries(self, given: dict[str, Any], tare: float, cask: Cask | None) -> tuple[Carry, ...]:
        readings = {name: f"{given[name]:.12g}" for name in ("gross_kg", "celsius")} | {"tare_kg": f"{tare:.12g}"}
        if given["hydrometer_percent"] is not None:
            readings["hydrometer_percent"] = f"{given['hydrometer_percent']:.12g}"
        if cask is not None:
            readings["cask"] = cask.vessel.code
        return (Carry("regauge", "A regauge of this cask", readings),)
