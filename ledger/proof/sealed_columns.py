"""Which columns of a movement, and of what hangs on it, are under its seal, in the order in which rows give them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import models

from ledger.models import Duty, Figure, Gauge, Leg, MeasuredFlow

Row = Sequence[Any]

MOVEMENT = (
    "id",
    "kind",
    "operation",
    "happened_at",
    "written_at",
    "period",
    "person_id",
    "second_id",
    "record_kind",
    "record_number",
    "moment",
    "record_digest",
    "reason",
    "corrects_id",
    "restates_id",
    "slot",
    "true_at",
    "judged_against",
    "judged_ul",
    "judged_parts",
)

LEG = (
    "movement_id",
    "line",
    "position",
    "account_id",
    "other_id",
    "stage",
    "entry",
    "happened_at",
    "period",
    "pure_ul",
    "mass_g",
)

GAUGE = (
    "movement_id",
    "account_id",
    "name",
    "role",
    "method",
    "happened_at",
    "position",
    "pure_ul",
    "mass_g",
    "litres20_ul",
    "percent20_millionths",
    "uncertainty_ul",
    "book_ul",
    "rule",
    "raw",
    "chain",
)

FLOW = (
    "movement_id",
    "line",
    "giver_id",
    "taker_id",
    "name",
    "method",
    "pure_ul",
    "mass_g",
    "litres20_ul",
    "percent20_millionths",
    "uncertainty_ul",
    "rule",
    "raw",
    "chain",
)

FIGURE = (
    "movement_id",
    "line",
    "name",
    "like",
    "beside",
    "field",
    "unit",
    "value_millionths",
    "expected_millionths",
    "spread_millionths",
    "parts",
)

DUTY = (
    "movement_id",
    "removal",
    "tax_type",
    "litres20_ul",
    "percent_millionths",
    "pure_ul",
    "rate_pence_hundredths",
    "pence",
    "source",
)


@dataclass(frozen=True, slots=True)
class Part:
    """What hangs on a movement under one name: its model, the columns sealed, and the column that orders it.

    `only` is the condition on its rows where the table holds others too: what the model asks by itself, as SQL.
    """

    name: str
    model: type[models.Model]
    columns: tuple[str, ...]
    order: str
    only: str = ""


PARTS = (
    Part("legs", Leg, LEG, "line"),
    Part("gauges", Gauge, GAUGE, "position", "giver_id IS NULL"),
    Part("measures", MeasuredFlow, FLOW, "line", "giver_id IS NOT NULL"),
    Part("figures", Figure, FIGURE, "line"),
    Part("duties", Duty, DUTY, "id"),
)
