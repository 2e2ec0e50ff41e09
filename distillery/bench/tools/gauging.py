"""Gauge a vessel: dip, temperature and hydrometer (or gravities, for wash) to litres at 20 °C, strength and alcohol."""

from __future__ import annotations

from dataclasses import replace
from math import hypot
from typing import Any

from django import forms

from distillery import figures
from distillery.alcoholometry.gauging.chain import GaugeChain
from distillery.bench.answer import Answer, Carry, GaugeRead, contribution_table, result
from distillery.bench.boxes import (
    BenchForm,
    Figure,
    Refusal,
    amount,
    beside,
    gravity,
    instrument_box,
    obscuration,
    offer_instruments,
    strength_instrument_of,
    temperature,
)
from distillery.bench.cautions import NOT_CARRIED, SAMPLING, WASH, remarks_on
from distillery.bench.instruments import STRENGTH
from distillery.plant.gauges import Dip, read_dip, spirit_by_dip, wash_by_dip
from distillery.plant.models import Kind, Vessel
from distillery.plant.outfit import Outfit


class VesselBox(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A vessel by code and name."""

    def label_from_instance(self, obj: Vessel) -> str:
        return f"{obj.code}, {obj.name}"


class GaugeForm(BenchForm):
    """A vessel with a calibration table."""

    title = "Gauge a vessel"
    doubtful = "hydrometer_percent"
    caution = SAMPLING

    vessel = VesselBox(
        queryset=Vessel.objects.none(),
        to_field_name="code",
        label="Vessel",
        empty_label="Choose",
        error_messages={
            "required": "Choose the vessel that was dipped.",
            "invalid_choice": "There is no vessel of that code with a calibration table: choose one from the list.",
        },
    )
    dip_mm = amount("Dip", "mm")
    celsius = temperature("Temperature of the liquid")
    hydrometer_percent = Figure("Hydrometer reading", "% vol", required=False, help_text="Spirit and low wines.")
    instrument = instrument_box()
    original_gravity = gravity("Original gravity", required=False, help_text="Wash only.")
    present_gravity = gravity("Present gravity", required=False, help_text="Wash only, at 20 °C.")
    obscuration_percent = obscuration()

    def prepare(self) -> None:
        offer_instruments(self, "instrument", STRENGTH)
        box = self.fields["vessel"]
        assert isinstance(box, forms.ModelChoiceField)
        box.queryset = Vessel.objects.filter(calibration__isnull=False).distinct()

    def work(self, given: dict[str, Any]) -> Answer:
        vessel: Vessel = given["vessel"]
        outfit = self.bench.outfit(given["instrument"], vessel=vessel)
        with beside("dip_mm"):
            dip = read_dip(self.bench.plant.table(vessel), outfit, given["dip_mm"])
        if vessel.kind == Kind.WASHBACK:
            return self._wash(vessel, dip, outfit, given)
        if given["hydrometer_percent"] is None and dip.litres > 0:
            raise Refusal("hydrometer_percent", "The vessel is not empty: take a hydrometer reading and enter it.")
        strength_instrument_of(outfit)
        with beside("obscuration_percent"):
            outfit = self.bench.obscured(outfit, given["obscuration_percent"])
        chain = spirit_by_dip(dip, outfit, celsius=given["celsius"], reading=given["hydrometer_percent"])
        gauge = {
            "dip_mm": f"{given['dip_mm']:.12g}",
            "celsius": f"{given['celsius']:.12g}",
            "hydrometer_percent": "" if given["hydrometer_percent"] is None else f"{given['hydrometer_percent']:.12g}",
        }
        read: GaugeRead | None = GaugeRead(vessel.code, {name: value for name, value in gauge.items() if value})
        carries = tuple(
            Carry(kind, text, {box: vessel.code} | {f"{start}{name}": value for name, value in gauge.items() if value})
            for kind, text, box, start in (
                ("transfer", "A transfer out of this vessel", "from_vessel", "from_before_"),
                ("transfer", "A transfer into this vessel", "to_vessel", "to_before_"),
                ("reduction", "A reduction in this vessel", "vessel", "before_"),
                ("stock_take", "A stock take", "line-0-vessel", "line-0-gauge_"),
            )
        )
        remarks = remarks_on(celsius=given["celsius"], percent20=chain.quantity.percent20) if dip.litres else ()
        notes = _obscured(outfit)
        if not self.bench.as_records(outfit, vessel):
            carries, read, notes = (), None, (*notes, NOT_CARRIED)
        answer = _answer(chain, dip, outfit, remarks=remarks, notes=notes, carries=carries)
        return replace(answer, gauge=read)

    def _wash(self, vessel: Vessel, dip: Dip, outfit: Outfit, given: dict[str, Any]) -> Answer:
        for box in ("original_gravity", "present_gravity"):
            if given[box] is None:
                raise Refusal(box, "A washback is proved by its gravities: enter the original and the present one.")
        factors = self.bench.gravities()
        with beside("present_gravity"):
            chain = wash_by_dip(
                dip,
                outfit,
                celsius=given["celsius"],
                original_gravity=given["original_gravity"],
                present_gravity=given["present_gravity"],
                factors=factors,
            )
        note = (
            f"Gravity factors: {factors.source}, in force from {figures.day(factors.from_date, year=True)}. "
            "An estimate for the wash account."
        )
        return _answer(chain, dip, outfit, notes=(note,), remarks=(WASH,))


def _obscured(outfit: Outfit) -> tuple[str, ...]:
    hidden = outfit.obscuration
    if hidden is None:
        return ()
    return (f"Obscuration of {hidden.percent:+g} % vol, {hidden.source}, is added to the strength.",)


def _answer(
    chain: GaugeChain,
    dip: Dip,
    outfit: Outfit,
    *,
    carries: tuple[Carry, ...] = (),
    notes: tuple[str, ...] = (),
    remarks: tuple[str, ...] = (),
) -> Answer:
    quantity = chain.quantity
    vessel = outfit.vessel
    assert vessel is not None
    if not dip.litres:
        remarks = (*remarks, f"The table of {vessel.code} has nothing at this dip: the vessel is empty.")
    u = outfit.uncertainty
    by_dip = hypot(u.dip_mm * dip.found.litres_per_mm, u.calibration_share * dip.litres)
    table = (
        f"The table of {vessel.code} counts with {100 * u.calibration_share:.2g} % of the volume: "
        f"{outfit.calibration.source}."
        if outfit.calibration
        else f"How sure the table of {vessel.code} is stands on no record, so ± leaves that out."
    )
    return Answer(
        facts=(
            result("Pure alcohol", quantity.lpa, "LPA", 2, quantity.uncertainty_ul / 1e6),
            result("Volume at 20 °C", quantity.litres20, "L", 1, chain.uncertainty_litres20),
            result("True strength at 20 °C", quantity.percent20, "% vol", 2, chain.uncertainty_percent),
            result("True mass", quantity.mass_g / 1000.0, "kg", 1, chain.uncertainty_kilograms),
            result("Volume by dip, as it stands", dip.litres, "L", 1, by_dip),
        ),
        steps=chain.steps,
        contributions=contribution_table(chain.contributions),
        remarks=remarks,
        notes=(
            "± holds dip, thermometer and hydrometer or saccharometer, with what their certificates leave open. "
            f"{table}",
            *notes,
        ),
        carries=carries,
    )
