"""A vessel or a cask gauged with the plant's own instruments: the one way from readings to content.

The records and the bench both come through here: dip after the rod's certificate, litres by the vessel's table, the
other readings after their certificates, with the uncertainties of what is in use on the day.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from distillery.alcoholometry.gauging.chain import Corrections, GaugeChain
from distillery.alcoholometry.gauging.gauge import (
    gauge_by_dip_chain,
    gauge_by_litres_chain,
    gauge_by_weight_chain,
    gauge_wash_by_dip_chain,
)
from distillery.alcoholometry.gauging.readings import certificate_step, empty_chain
from distillery.alcoholometry.gravity import GravityTable
from distillery.alcoholometry.reading import TWENTY_DEGREE_GLASS
from distillery.alcoholometry.strength import REFERENCE_CELSIUS
from distillery.plant.calibration import CalibrationTable, Dipped
from distillery.plant.outfit import Outfit


@dataclass(frozen=True, slots=True)
class Dip:
    """A dip as read in mm, and what it means by the vessel's table after the rod's certificate."""

    shown_mm: float
    found: Dipped

    @property
    def litres(self) -> float:
        """Litres at the liquid's own temperature."""
        return self.found.litres


def read_dip(table: CalibrationTable, outfit: Outfit, dip_mm: float) -> Dip:
    """A dip of a vessel. Raises NoCalibration, DipOutsideTable or OutsideCertificate."""
    return Dip(dip_mm, table.litres(dip_mm=outfit.rod.corrected(dip_mm, "dip")))


def spirit_by_dip(dip: Dip, outfit: Outfit, *, celsius: float, reading: float | None) -> GaugeChain:
    """Spirit or low wines: `reading` is what the strength instrument showed, in its own unit.

    A dip of no litres is an empty vessel. Raises the refusals of alcoholometry.
    """
    if dip.litres == 0:
        return empty_chain(0.0)
    chain = gauge_by_dip_chain(
        litres_at_temperature=dip.litres,
        litres_per_mm=dip.found.litres_per_mm,
        celsius=celsius,
        hydrometer_percent=reading,
        alcoholometer=outfit.alcoholometer,
        u=outfit.uncertainty,
        corrections=outfit.corrections,
        dip_mm=dip.shown_mm,
        instruments=outfit.names,
    )
    return _with_rod(chain, dip, outfit)


def wash_by_dip(
    dip: Dip,
    outfit: Outfit,
    *,
    celsius: float,
    original_gravity: float,
    present_gravity: float,
    factors: GravityTable,
) -> GaugeChain:
    """Wash by its gravities at 20 °C and the factors in force. Raises the refusals of alcoholometry."""
    if dip.litres == 0:
        return empty_chain(0.0)
    chain = gauge_wash_by_dip_chain(
        litres_at_temperature=dip.litres,
        litres_per_mm=dip.found.litres_per_mm,
        celsius=celsius,
        original_gravity=original_gravity,
        present_gravity=present_gravity,
        table=factors,
        u=outfit.uncertainty,
        corrections=outfit.corrections,
        dip_mm=dip.shown_mm,
        instruments=outfit.names,
    )
    return _with_rod(chain, dip, outfit)


def by_litres(outfit: Outfit, *, litres: float, u_litres: float, celsius: float, reading: float | None) -> GaugeChain:
    """A cask by litres that were measured as such, at the temperature beside them. Raises the refusals of
    alcoholometry."""
    return gauge_by_litres_chain(
        litres_at_temperature=litres,
        u_litres=u_litres,
        celsius=celsius,
        hydrometer_percent=reading,
        alcoholometer=outfit.alcoholometer,
        u=outfit.uncertainty,
        corrections=outfit.corrections,
        instruments=outfit.names,
    )


def by_weight(outfit: Outfit, *, gross_kg: float, tare_kg: float, celsius: float, reading: float | None) -> GaugeChain:
    """A cask on the scale, its strength by instrument and thermometer. Raises the refusals of alcoholometry."""
    return gauge_by_weight_chain(
        gross_kg=gross_kg,
        tare_kg=tare_kg,
        celsius=celsius,
        hydrometer_percent=reading,
        alcoholometer=outfit.alcoholometer,
        u=outfit.uncertainty,
        corrections=outfit.corrections,
        instruments=outfit.names,
    )


def by_weight_at_strength(outfit: Outfit, *, gross_kg: float, tare_kg: float, percent20: float) -> GaugeChain:
    """A cask on the scale, its true strength known at 20 °C. Raises the refusals of alcoholometry.

    A known strength is what an instrument made for 20 °C shows there, so nothing that belongs to hydrometer,
    thermometer or sample is added to it again.
    """
    return gauge_by_weight_chain(
        gross_kg=gross_kg,
        tare_kg=tare_kg,
        celsius=REFERENCE_CELSIUS,
        hydrometer_percent=percent20,
        alcoholometer=TWENTY_DEGREE_GLASS,
        u=outfit.uncertainty,
        corrections=Corrections(scale=outfit.corrections.scale),
        instruments=outfit.names,
    )


def _with_rod(chain: GaugeChain, dip: Dip, outfit: Outfit) -> GaugeChain:
    rod = certificate_step("dip", dip.shown_mm, "mm", outfit.rod)
    return replace(chain, steps=(*rod, *chain.steps)) if rod else chain
