"""An invented tank with instruments for the tests of the plant: nothing here is of a real site."""

from __future__ import annotations

from datetime import UTC, datetime

from distillery.plant.models import MICRO, CalibrationPoint, Instrument, Vessel

MORNING = datetime(2027, 3, 4, 8, 0, tzinfo=UTC)


def tank(code: str = "SV1") -> Vessel:
    """A spirit vat that holds 2.48 L a millimetre."""
    vessel = Vessel.objects.create(code=code, name=f"Vat {code}", kind="vat", stage="new spirit")
    for dip_mm in (0, 2000):
        CalibrationPoint.objects.create(vessel=vessel, dip_um=dip_mm * 1000, volume_ul=round(dip_mm * 2.48 * MICRO))
    return vessel


def instrument(code: str, measures: str, u: float, celsius: float | None = None, **more: object) -> Instrument:
    """An instrument with a standard uncertainty of one reading."""
    return Instrument.objects.create(
        code=code,
        measures=measures,
        unit=more.pop("unit", ""),
        resolution_millionths=MICRO // 10,
        standard_uncertainty_millionths=round(u * MICRO),
        reference_millicelsius=None if celsius is None else round(celsius * 1000),
        **more,
    )
