"""What a spirit run runs into, and the figures by which one is compared with other runs of the same still.

A charge usually stands below 30 % vol, feints at 20 to 50, a middle cut at 60 to 76 (common practice, no source).
"""

from __future__ import annotations

from functools import partial

from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Held, from_gauges, hours, reading
from batches.steps.shared.receivers import receiver
from distillery.plant.models import Purpose, Stage
from ledger.posting.drafts import FigureTaken

LOW_WINES_PERCENT = ("15", "35")
FEINTS_PERCENT = ("20", "50")
SPIRIT_PERCENT = ("60", "76")
SPIRIT = receiver(
    "spirit_receiver",
    "Spirit receiver",
    gauged="spirit",
    stage=Stage.NEW_SPIRIT,
    purpose=Purpose.SPIRIT,
    usual_percent=SPIRIT_PERCENT,
)
FEINTS = receiver(
    "feints_receiver",
    "Feints from and to",
    named="feints receiver",
    gauged="feints_receiver",
    stage=Stage.LOW_WINES,
    purpose=Purpose.FEINTS,
    usual_percent=FEINTS_PERCENT,
)


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """Cut, feints, lees and times, beside other runs of the same still."""
    started, ended, like = written.moment("charged_at"), written.moment("ended_at"), written.vessel("still").code
    charged = [(written, f"{name}_{when}") for name in ("low_wines", "feints") for when in ("before", "after")]

    def lees() -> float:
        return written.real("spent_lees_litres")

    def charge_litres(*charge: Held) -> float:
        wines_before, wines_after, feints_before, feints_after = (one.litres for one in charge)
        return wines_before - wines_after + feints_before - feints_after

    found = Compared(ended)
    SPIRIT.average_among(found, written, "average strength of the cut", like=like)
    SPIRIT.share_among(found, written, "share of the charge in the cut", charged, like=like)
    FEINTS.average_among(found, written, "average strength of the feints", like=like)
    found.with_kind(
        "charge", lambda: from_gauges(charge_litres, *charged), like=like, field="low_wines_before_dip_mm", unit="L"
    )
    found.with_kind(
        "spent lees of the charge",
        lambda: from_gauges(lambda *charge: 100.0 * lees() / charge_litres(*charge), *charged).and_in_proportion_to(
            "spent_lees_litres", lees()
        ),
        like=like,
        field="spent_lees_litres",
        unit="%",
    )
    found.with_kind(
        "spent lees strength",
        lambda: reading(written, "spent_lees_percent"),
        like=like,
        field="spent_lees_percent",
        unit="% vol",
    )
    for name, column in (("strength at spirit on", "cut_on_percent"), ("strength at spirit off", "cut_off_percent")):
        if written.has(column):
            found.with_kind(name, partial(written.real, column), like=like, field=column, unit="% vol")
    if written.has("spirit_on_at"):
        found.with_kind(
            "time to spirit on",
            lambda: hours(started, written.moment("spirit_on_at")),
            like=like,
            field="spirit_on_at",
            unit="h",
        )
    found.with_kind("run time", lambda: hours(started, ended), like=like, field="ended_at", unit="h")
    return found.figures
