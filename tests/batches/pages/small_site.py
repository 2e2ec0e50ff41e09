"""A small invented site for the tests of pages: a few vessels with straight tables, and records written through the
one service that writes them."""

from __future__ import annotations

from batches.models import Record
from batches.records import recording
from distillery.people.models import Person
from distillery.plant.models import CalibrationPoint, Cask, Purpose, Stage, Vessel
from distillery.plant.models import Kind as VesselKind
from distillery.seals.writing import signed

MILLIMETRE_UM = 1000
LITRE_UL = 1_000_000
LITRES_PER_MM = 4
DEEPEST_MM = 3000


@signed("tests")
def vessel(code: str, kind: str, stage: str, purpose: str = "") -> Vessel:
    made = Vessel.objects.create(
        code=code, name=f"{code} of the tests", kind=kind, stage=stage, purpose=purpose, capacity_ul=12_000 * LITRE_UL
    )
    CalibrationPoint.objects.bulk_create(
        CalibrationPoint(vessel=made, dip_um=dip * MILLIMETRE_UM, volume_ul=dip * LITRES_PER_MM * LITRE_UL)
        for dip in (0, DEEPEST_MM)
    )
    return made


@signed("tests")
def cask(code: str, warehouse: str = "W1") -> Vessel:
    made = Vessel.objects.create(code=code, name=code, kind=VesselKind.CASK, stage=Stage.MATURING)
    lies = {"warehouse": warehouse, "listed_warehouse": warehouse}
    Cask.objects.create(vessel=made, kind="barrel", nominal_ul=200 * LITRE_UL, **lies)
    return made


@signed("tests")
def small_site() -> None:
    """Vessels from washback to vat, and three casks."""
    vessel("WB1", VesselKind.WASHBACK, Stage.WASH)
    Vessel.objects.create(code="WS", name="Wash still", kind=VesselKind.STILL, stage=Stage.WASH)
    Vessel.objects.create(code="SS", name="Spirit still", kind=VesselKind.STILL, stage=Stage.LOW_WINES)
    vessel("LWR", VesselKind.RECEIVER, Stage.LOW_WINES, Purpose.LOW_WINES)
    vessel("FR", VesselKind.RECEIVER, Stage.LOW_WINES, Purpose.FEINTS)
    vessel("SPR", VesselKind.RECEIVER, Stage.NEW_SPIRIT, Purpose.SPIRIT)
    vessel("V1", VesselKind.VAT, Stage.NEW_SPIRIT)
    vessel("V2", VesselKind.VAT, Stage.NEW_SPIRIT)
    for code in ("C001", "C002", "C003"):
        cask(code)


def opening(person: Person, code: str = "V1", *, dip: str = "1000", percent: str = "63.5") -> Record:
    return recording.save(
        "opening_stock",
        None,
        {
            "vessel": code,
            "at": "2027-03-01 06:00",
            "gauge_dip_mm": dip,
            "gauge_celsius": "20.0",
            "gauge_hydrometer_percent": percent,
        },
        person=person,
    )


FILL = {
    "at": "2027-03-02 10:00",
    "vat": "V1",
    "vat_before_dip_mm": "1000",
    "vat_before_celsius": "20.0",
    "vat_before_hydrometer_percent": "63.5",
    "vat_after_dip_mm": "899",
    "vat_after_celsius": "20.0",
    "vat_after_hydrometer_percent": "63.5",
}
CASKS = [
    {"cask": "C001", "tare_kg": "50.0", "gross_kg": "229.1", "celsius": "20.0", "hydrometer_percent": "63.5"},
    {"cask": "C002", "tare_kg": "51.0", "gross_kg": "230.0", "celsius": "20.0", "hydrometer_percent": "63.5"},
]


def fill(person: Person) -> Record:
    return recording.save("cask_fill", None, FILL, CASKS, person=person)


CHARGE = {
    "still": "SS",
    "charged_at": "2027-03-03 06:00",
    "low_wines_receiver": "LWR",
    "feints_receiver": "FR",
    "low_wines_before_dip_mm": "900",
    "low_wines_before_celsius": "18.0",
    "low_wines_before_hydrometer_percent": "24.8",
    "low_wines_after_dip_mm": "0",
    "feints_before_dip_mm": "500",
    "feints_before_celsius": "18.0",
    "feints_before_hydrometer_percent": "36.0",
    "feints_after_dip_mm": "0",
    "spirit_receiver": "SPR",
    "spirit_before_dip_mm": "0",
    "feints_receiver_before_dip_mm": "0",
}
EMPTY_CELSIUS = (
    "low_wines_after_celsius",
    "feints_after_celsius",
    "spirit_before_celsius",
    "feints_receiver_before_celsius",
)
CHARGE |= dict.fromkeys(EMPTY_CELSIUS, "18.0")

FINISH = {
    "spirit_on_at": "2027-03-03 07:20",
    "cut_on_percent": "73.0",
    "spirit_off_at": "2027-03-03 10:40",
    "cut_off_percent": "62.1",
    "ended_at": "2027-03-03 13:20",
    "spirit_after_dip_mm": "300",
    "spirit_after_celsius": "18.0",
    "spirit_after_hydrometer_percent": "69.1",
    "feints_receiver_after_dip_mm": "530",
    "feints_receiver_after_celsius": "18.0",
    "feints_receiver_after_hydrometer_percent": "36.5",
    "spent_lees_litres": "2300",
    "spent_lees_percent": "0.05",
}


def charged_run(person: Person) -> Record:
    return recording.save("spirit_run", None, CHARGE, person=person)
