"""The columns of the plant's tables in a month's folder."""

from __future__ import annotations

from collections.abc import Mapping

from batches.loading.measuring_tables import MEASURING
from batches.sheets import fields
from batches.sheets.sheet import Field, Kind
from distillery.plant.models import DensityBasis, Purpose, Stage, WorksBy
from distillery.plant.models import Kind as VesselKind

VESSEL_KINDS = tuple(kind.value for kind in VesselKind if kind != VesselKind.CASK)
STAGES = tuple(stage.value for stage in Stage)

VESSELS = (
    fields.text("vessel", "Vessel", longest=40),
    fields.text("name", "Name", longest=80),
    Field(name="kind", label="Kind", kind=Kind.CHOICE, choices=VESSEL_KINDS),
    Field(name="stage", label="Stage", kind=Kind.CHOICE, choices=STAGES),
    fields.litres("capacity_litres", "Capacity", required=False),
    Field(name="kept_for", label="Kept for", kind=Kind.CHOICE, choices=tuple(Purpose.values), required=False),
)
CALIBRATION = (
    fields.text("vessel", "Vessel"),
    fields.number("dip_mm", "Dip", "mm", high=fields.MOST_MILLIMETRES),
    fields.litres("litres", "Litres"),
)
# What else may stand of a cask, each where it is known.
REGISTER = (
    fields.text("row", "Row", longest=20, required=False),
    fields.text("tier", "Tier", longest=20, required=False),
    fields.text("wood", "Wood", longest=60, required=False),
    fields.text("owner", "Owner", longest=80, required=False),
    fields.text("head_number", "Number on the head", longest=40, required=False),
    fields.count("head_year", "Year on the head", required=False),
    fields.text("head_distillery", "Distillery on the head", longest=80, required=False),
)
EMPTY_CASKS = (
    fields.text("number", "Cask", longest=40),
    fields.text("kind", "Kind of cask", longest=40),
    fields.count("fill", "Fill", required=False),
    fields.litres("litres", "Nominal size", low="1"),
    fields.text("warehouse", "Warehouse", longest=40, required=False),
    *REGISTER,
)
MATURING_CASKS = (
    fields.text("number", "Cask", longest=40),
    fields.text("kind", "Kind of cask", longest=40),
    fields.count("fill", "Fill", required=False),
    fields.litres("nominal_litres", "Nominal size", low="1"),
    fields.text("warehouse", "Warehouse", longest=40, required=False),
    fields.when("filled_at", "Filled at"),
    fields.kilograms("tare_kg", "Tare"),
    fields.kilograms("gross_kg", "Gross"),
    fields.percent("percent", "Strength at 20 °C"),
    *REGISTER,
)
INSTRUMENTS = (
    fields.text("instrument", "Instrument", longest=40),
    fields.text("measures", "Measures", longest=40),
    fields.text("unit", "Unit", longest=40),
    fields.number("resolution", "Resolution", "", high="1000000"),
    fields.number("standard_uncertainty", "Standard uncertainty", "", low="0.000001", high="1000000"),
    fields.celsius("reference_celsius", "Reference temperature", required=False),
    fields.number("glass_per_celsius", "Growth of its glass for each °C", "", high="0.001", required=False),
    Field(name="works_by", label="Works by", kind=Kind.CHOICE, choices=tuple(WorksBy.values), required=False),
    Field(
        name="density_basis",
        label="Density in",
        kind=Kind.CHOICE,
        choices=tuple(DensityBasis.values),
        required=False,
    ),
)
RECIPES = (
    fields.text("recipe", "Recipe", longest=40),
    fields.text("botanical", "Botanical", longest=60),
    fields.number("grams_per_lpa", "Grams for each litre of pure alcohol", "g", high="1000000"),
)

PLANT: Mapping[str, tuple[Field, ...]] = {
    "vessels": VESSELS,
    "calibration": CALIBRATION,
    "empty_casks": EMPTY_CASKS,
    "maturing_casks": MATURING_CASKS,
    "instruments": INSTRUMENTS,
    "recipes": RECIPES,
    **MEASURING,
}
