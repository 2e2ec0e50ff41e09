"""A few vessels and instruments of Harrowmere for the bench, and what its pages say."""

from __future__ import annotations

import html
import re
from pathlib import Path

from distillery.plant.models import MICRO, CalibrationPoint, Cask, Instrument, Vessel

DATA = Path(__file__).parents[2] / "data" / "alcoholometry"


def make_plant() -> None:
    for code, kind, stage, points in (
        ("SR1", "receiver", "new spirit", ((0, 0), (1000, 2480), (2000, 4960))),
        ("WB1", "washback", "wash", ((0, 0), (1000, 2250), (4800, 10800))),
        ("HW-0001", "cask", "maturing in cask", ()),
    ):
        vessel = Vessel.objects.create(code=code, name=f"Vessel {code}", kind=kind, stage=stage)
        for dip_mm, litres in points:
            CalibrationPoint.objects.create(vessel=vessel, dip_um=dip_mm * 1000, volume_ul=litres * MICRO)
    Cask.objects.create(
        vessel_id=Vessel.objects.get(code="HW-0001").pk, kind="barrel", nominal_ul=200 * MICRO, tare_g=48_200
    )
    for code, measures, resolution, u, reference in (
        ("DIP", "dip", 1, 0.85, None),
        ("THERM", "temperature", 0.1, 0.08, None),
        ("ALC", "strength", 0.1, 0.06, 20_000),
        ("ALC-OLD", "strength", 0.1, 0.06, None),
        ("SACC", "gravity", 0.0001, 0.0002, 20_000),
        ("SCALE", "cask weight", 0.1, 0.1, None),
    ):
        Instrument.objects.create(
            code=code,
            measures=measures,
            unit="",
            resolution_millionths=round(resolution * MICRO),
            standard_uncertainty_millionths=round(u * MICRO),
            reference_millicelsius=reference,
        )


def facts(page) -> dict[str, str]:
    """What a page says under its result: label to text, without marks."""
    found = re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", page.content.decode())
    return {label: html.unescape(re.sub("<[^>]+>", "", text)) for label, text in found}


def value(text: str) -> float:
    """The figure at the head of '1,572.17 LPA ± 4.31'."""
    return float(text.split()[0].replace(",", "").replace("−", "-"))


def expanded(text: str) -> float:
    """The ± behind it."""
    return float(text.split("±")[1].replace(",", ""))


def table(name: str) -> list[list[str]]:
    lines = [line for line in (DATA / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return [line.split(",") for line in lines[1:]]
