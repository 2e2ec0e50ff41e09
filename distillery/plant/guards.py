"""Which of the plant's tables keep what was entered, and the triggers that see to it on both engines."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only

FACTS = (
    "plant_instrumentuse",
    "plant_certificate",
    "plant_certificatepoint",
    "plant_vesselcalibration",
    "plant_obscurationfound",
    "plant_recipe",
    "plant_recipeversion",
    "plant_warehouserow",
    "plant_keyholder",
)


def plant_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """Every trigger the plant's dated tables need on this engine."""
    vendor = "sqlite" if connection.vendor == "sqlite" else "postgresql"
    return [guard for table in FACTS for guard in append_only(table, vendor=vendor)]
