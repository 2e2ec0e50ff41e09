"""An invented plant so plain that every posting can be worked out by hand: each vessel holds a litre a millimetre.

At 20 °C a dip is the litres at 20 °C and a hydrometer made for 20 °C shows the true strength, so 1,000 mm that show
50.0 hold 500 litres of pure alcohol. Invented for tests; no real site.
"""

from __future__ import annotations

from distillery.plant.models import MICRO, CalibrationPoint, Cask, Kind, Purpose, Stage, Vessel
from distillery.seals.writing import signed

HIGHEST_MM = 5000

VESSELS = (
    ("WB", "Washback", Kind.WASHBACK, Stage.WASH, ""),
    ("WS", "Wash still", Kind.STILL, Stage.WASH, ""),
    ("LW", "Low wines receiver", Kind.RECEIVER, Stage.LOW_WINES, Purpose.LOW_WINES),
    ("FE", "Feints receiver", Kind.RECEIVER, Stage.LOW_WINES, Purpose.FEINTS),
    ("SS", "Spirit still", Kind.STILL, Stage.LOW_WINES, ""),
    ("SP", "Spirit receiver", Kind.RECEIVER, Stage.NEW_SPIRIT, Purpose.SPIRIT),
    ("VA", "Spirit vat", Kind.VAT, Stage.NEW_SPIRIT, ""),
    ("TS", "Third still", Kind.STILL, Stage.RECTIFIED, ""),
    ("GI", "Gin vat", Kind.VAT, Stage.RECTIFIED, ""),
    ("HT", "Heads and tails", Kind.TANK, Stage.RECTIFIED, Purpose.HEADS_AND_TAILS),
    ("BV", "Bottling vat", Kind.VAT, Stage.REDUCED, ""),
)


@signed("tests")
def build() -> None:
    """Puts the plant on the site: vessels with straight tables, and two empty casks."""
    for order, (code, name, kind, stage, purpose) in enumerate(VESSELS, start=1):
        vessel = Vessel.objects.create(
            code=code, name=name, kind=kind, stage=stage, purpose=purpose, order=order, capacity_ul=5000 * MICRO
        )
        if kind != Kind.STILL:
            CalibrationPoint.objects.create(vessel=vessel, dip_um=0, volume_ul=0)
            CalibrationPoint.objects.create(vessel=vessel, dip_um=HIGHEST_MM * 1000, volume_ul=HIGHEST_MM * MICRO)
    for code in ("C1", "C2"):
        cask(code)


@signed("tests")
def cask(code: str) -> Vessel:
    """A cask of 200 litres, empty."""
    vessel = Vessel.objects.create(
        code=code, name=f"Cask {code}", kind=Kind.CASK, stage=Stage.MATURING, capacity_ul=200 * MICRO
    )
    Cask.objects.create(vessel=vessel, kind="barrel", nominal_ul=200 * MICRO, warehouse="1", listed_warehouse="1")
    return vessel


def gauge(prefix: str, dip: str, percent: str = "", celsius: str = "20") -> dict[str, str]:
    """The three readings of a gauge under their columns' names; nothing is left out but a blank hydrometer."""
    readings = {f"{prefix}_dip_mm": dip, f"{prefix}_celsius": celsius}
    return readings | ({f"{prefix}_hydrometer_percent": percent} if percent else {})
