"""What the hearts of a third still run are, and what the name they are meant for asks of them.

Strengths in % vol at 20 °C.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

from batches.sheets.results import Result
from batches.sheets.sheet import Note
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.names import checked_name, name_failed, needs_of_name
from batches.steps.shared.receivers import receiver
from batches.steps.shared.steeped import botanicals_steeped
from batches.steps.shared.third_still import off_the_recipe
from distillery.plant.models import Stage
from distillery.process.product_names import Checked, Evidence

AVERAGE: Final = "average strength of the product"
# What a record says of its product itself, by the fields of its sheet.
SAID: Final = {
    "methanol": "product_methanol_g_per_hl",
    "predominant taste": "predominant_taste",
    "sweetening": "sweetening_g_per_l",
    "added": "added",
}
PRODUCT_PERCENT: Final = ("35", "97")
PRODUCT: Final = receiver(
    "product_vessel",
    "Product to",
    named="product vessel",
    gauged="product",
    still="third_still",
    stage=Stage.RECTIFIED,
    usual_percent=PRODUCT_PERCENT,
)


def hearts_percent(written: Completed) -> float | None:
    """The average strength of the product, from the gauges of the vessels it went to: pure alcohol over litres. None
    before the end."""
    if not written.has("ended_at"):
        return None
    try:
        held = [written.quantity(name) for _, name in PRODUCT.gauges(written)]
    except Ungaugeable:
        return None
    pairs = list(zip(held[::2], held[1::2], strict=True))
    litres = sum(after.litres20 - before.litres20 for before, after in pairs)
    return sum(after.pure_ul - before.pure_ul for before, after in pairs) / 10_000 / litres if litres > 0 else None


def name_checked(written: Completed) -> list[Checked]:
    """What the name it is meant for asks for, against its base and what it says itself."""
    this = written.number or "this run"
    own = {measure: [Evidence(_plain(written, name), this)] for measure, name in SAID.items() if written.has(name)}
    names = [line.text("botanical") for line in written.rows if line.has("botanical")] + botanicals_steeped(written)
    if names:
        own["botanical"] = [Evidence(", ".join(dict.fromkeys(names)), this)]
    hearts = hearts_percent(written)
    highest = {}
    if hearts is not None:
        own["distillate strength"] = [Evidence(hearts, this)]
        # Rectified in this run, it counts as distilled to what it came off at; made into gin, as its base was.
        highest["base strength"] = Evidence(hearts, this)
    return checked_name(written, at=written.moment("charged_at"), source="source", own=own, highest=highest)


def _plain(written: Completed, name: str) -> float | str:
    return written.real(name) if name.endswith(("_hl", "_l")) else written.text(name)


def name_needs(written: Completed, now: datetime) -> Result | None:
    """The checks of the name as they are shown."""
    return needs_of_name(written.text("legal_name"), name_checked(written))


def unlikely(written: Completed) -> list[Note]:
    """What does not agree with the recipe, and what stands against the name."""
    return off_the_recipe(written) + name_failed(written.text("legal_name"), name_checked(written))
