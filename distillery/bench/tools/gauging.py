"""Gauge a vessel: dip, temperature and hydrometer (or gravities, for wash) to litres at 20 °C, strength and alcohol."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from distillery import figures
from distillery.alcoholometry.chain import GaugeChain, InstrumentNames
from distillery.alcoholometry.gauge import gauge_by_dip_chain, gauge_wash_by_dip_chain
from distillery.alcoholometry.gravity import GravityTable, gravity_drop_degrees, wash_percent
from distillery.alcoholometry.reading import Alcoholometer, true_percent_of_reading
from distillery.alcoholometry.strength import density20_of_percent
from distillery.alcoholometry.volume import factor_to_20
from distillery.alcoholometry.wort import water_kg_per_m3
from distillery.bench.answer import Answer, Carry, contribution_table, result
from distillery.bench.boxes import (
    BenchForm,
    Figure,
    Refusal,
    amount,
    beside,
    gravity,
    instrument_box,
    offer_instruments,
    temperature,
)
from distillery.bench.cautions import SAMPLING, WASH
from distillery.bench.instruments import STRENGTH, corrections_of, gravity_table_on
from distillery.bench.spread import Input, Values, spread
from distillery.plant.calibration import Dipped, table_of
from distillery.plant.models import Kind, Vessel

GRAVITY_STEP = 1e-5


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

    def prepare(self) -> None:
        offer_instruments(self, "instrument", STRENGTH)
        box = self.fields["vessel"]
        assert isinstance(box, forms.ModelChoiceField)
        box.queryset = Vessel.objects.filter(calibration__isnull=False).distinct()

    def work(self, given: dict[str, Any]) -> Answer:
        vessel: Vessel = given["vessel"]
        with beside("dip_mm"):
            dipped = table_of(vessel).litres(dip_mm=given["dip_mm"])
        if vessel.kind == Kind.WASHBACK:
            return self._wash(vessel, dipped, given)
        if given["hydrometer_percent"] is None and dipped.litres > 0:
            raise Refusal("hydrometer_percent", "The vessel is not empty: take a hydrometer reading and enter it.")
        with beside("instrument"):
            instrument = self.bench.alcoholometer(given["instrument"])
        chain = gauge_by_dip_chain(
            litres_at_temperature=dipped.litres,
            litres_per_mm=dipped.litres_per_mm,
            celsius=given["celsius"],
            hydrometer_percent=given["hydrometer_percent"],
            alcoholometer=instrument,
            u=self.bench.uncertainty,
            corrections=corrections_of(vessel),
            dip_mm=given["dip_mm"],
            instruments=self._names(vessel),
        )
        litres_u, kilograms_u = _spirit_spread(self, dipped, given, vessel, instrument)
        gauge = {
            "dip_mm": f"{given['dip_mm']:.12g}",
            "celsius": f"{given['celsius']:.12g}",
            "hydrometer_percent": "" if given["hydrometer_percent"] is None else f"{given['hydrometer_percent']:.12g}",
        }
        carries = tuple(
            Carry(kind, text, {box: vessel.code} | {f"{start}{name}": value for name, value in gauge.items() if value})
            for kind, text, box, start in (
                ("transfer", "A transfer out of this vessel", "from_vessel", "from_before_"),
                ("transfer", "A transfer into this vessel", "to_vessel", "to_before_"),
                ("reduction", "A reduction in this vessel", "vessel", "before_"),
                ("stock_take", "A stock take", "line-0-vessel", "line-0-gauge_"),
            )
        )
        return _answer(chain, dipped, vessel, litres_u, kilograms_u, self.bench.uncertainty.dip_mm, carries=carries)

    def _wash(self, vessel: Vessel, dipped: Dipped, given: dict[str, Any]) -> Answer:
        for box in ("original_gravity", "present_gravity"):
            if given[box] is None:
                raise Refusal(box, "A washback is proved by its gravities: enter the original and the present one.")
        table = gravity_table_on(timezone.localdate())
        with beside("present_gravity"):
            chain = gauge_wash_by_dip_chain(
                litres_at_temperature=dipped.litres,
                litres_per_mm=dipped.litres_per_mm,
                celsius=given["celsius"],
                original_gravity=given["original_gravity"],
                present_gravity=given["present_gravity"],
                table=table,
                u=self.bench.uncertainty,
                corrections=corrections_of(vessel),
                dip_mm=given["dip_mm"],
                instruments=self._names(vessel),
            )
        litres_u, kilograms_u = _wash_spread(self, dipped, given, vessel, table)
        note = (
            f"Gravity factors: {table.source}, in force from {figures.day(table.from_date, year=True)}. "
            "An estimate for the wash account."
        )
        dip_u = self.bench.uncertainty.dip_mm
        return _answer(chain, dipped, vessel, litres_u, kilograms_u, dip_u, notes=(note,), remarks=(WASH,))

    def _names(self, vessel: Vessel) -> InstrumentNames:
        names = self.bench.names
        return InstrumentNames(
            dip=names.dip,
            thermometer=names.thermometer,
            alcoholometer=names.alcoholometer,
            saccharometer=names.saccharometer,
            vessel=f"calibration of {vessel.code}",
        )


def _inputs(form: GaugeForm, dipped: Dipped, given: dict[str, Any]) -> tuple[Input, Input]:
    u = form.bench.uncertainty
    return (
        Input("Volume by dip", dipped.litres, "L", u.dip_mm * dipped.litres_per_mm, step=min(0.001, dipped.litres / 2)),
        Input("Temperature", given["celsius"], "°C", u.celsius),
    )


def _spirit_spread(
    form: GaugeForm, dipped: Dipped, given: dict[str, Any], vessel: Vessel, instrument: Alcoholometer
) -> tuple[float, float]:
    if not dipped.litres:
        return 0.0, 0.0
    shell = corrections_of(vessel).shell

    def calculate(values: Values) -> Values:
        litres, liquid_celsius, reading = values
        percent = true_percent_of_reading(reading=reading, celsius=liquid_celsius, instrument=instrument)
        held = litres * (shell.factor(liquid_celsius) if shell else 1.0)
        litres20 = held * factor_to_20(percent20=percent, celsius=liquid_celsius)
        return litres20, litres20 * density20_of_percent(percent).kg_per_m3 / 1000.0

    hydrometer = Input("Hydrometer", given["hydrometer_percent"], "% vol", form.bench.uncertainty.percent)
    found = spread(calculate, (*_inputs(form, dipped, given), hydrometer))
    return found.standard_uncertainty(0), found.standard_uncertainty(1)


def _wash_spread(
    form: GaugeForm, dipped: Dipped, given: dict[str, Any], vessel: Vessel, table: GravityTable
) -> tuple[float, float]:
    if not dipped.litres:
        return 0.0, 0.0
    shell = corrections_of(vessel).shell
    original = given["original_gravity"]
    drop = gravity_drop_degrees(original_gravity=original, present_gravity=given["present_gravity"])
    percent = wash_percent(original_gravity=original, present_gravity=given["present_gravity"], table=table)
    per_degree = percent / float(drop) if drop else 0.0

    def calculate(values: Values) -> Values:
        litres, liquid_celsius, present = values
        strength = max(0.0, (original - present) * 1000.0 * per_degree)
        held = litres * (shell.factor(liquid_celsius) if shell else 1.0)
        litres20 = held * factor_to_20(percent20=strength, celsius=liquid_celsius)
        return litres20, litres20 * present * water_kg_per_m3(20.0) / 1000.0

    saccharometer = Input(
        "Present gravity", given["present_gravity"], "", form.bench.uncertainty.gravity, step=GRAVITY_STEP
    )
    found = spread(calculate, (*_inputs(form, dipped, given), saccharometer))
    return found.standard_uncertainty(0), found.standard_uncertainty(1)


def _answer(
    chain: GaugeChain,
    dipped: Dipped,
    vessel: Vessel,
    litres_u: float,
    kilograms_u: float,
    dip_u: float,
    *,
    carries: tuple[Carry, ...] = (),
    notes: tuple[str, ...] = (),
    remarks: tuple[str, ...] = (),
) -> Answer:
    quantity = chain.quantity
    if not dipped.litres:
        remarks = (*remarks, f"The table of {vessel.code} has nothing at this dip: the vessel is empty.")
    return Answer(
        facts=(
            result("Pure alcohol", quantity.lpa, "LPA", 2, quantity.uncertainty_ul / 1e6),
            result("Volume at 20 °C", quantity.litres20, "L", 1, litres_u),
            result("True strength at 20 °C", quantity.percent20, "% vol", 2, chain.uncertainty_percent),
            result("True mass", quantity.mass_g / 1000.0, "kg", 1, kilograms_u),
            result("Volume by dip, as it stands", dipped.litres, "L", 1, dip_u * dipped.litres_per_mm),
        ),
        steps=chain.steps,
        contributions=contribution_table(chain.contributions),
        remarks=remarks,
        notes=(
            "± holds dip, thermometer and hydrometer or saccharometer. What the vessel's own table adds is not in it.",
            *notes,
        ),
        carries=carries,
    )
