"""What a spirit run runs into, and the figures by which one is compared with other runs of the same still.

A charge usually stands below 30 % vol, feints at 20 to 50, a middle cut at 60 to 76 (common practice, no source).
"""

from __future__ import annotations

from functools import partial

from batches.sheets import fields
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Held, from_gauges, hours, reading
from batches.steps.shared.receivers import Receiver, average_percent, gained_lpa
from distillery.plant.models import Purpose, Stage
from ledger.posting.drafts import FigureTaken

LOW_WINES_PERCENT = ("15", "35")
FEINTS_PERCENT = ("20", "50")
SPIRIT_PERCENT = ("60", "76")
SPIRIT = Receiver(
    field="spirit_receiver",
    named="spirit receiver",
    before="spirit_before",
    after="spirit_after",
    still="still",
    vessel=fields.vessel(
        "spirit_receiver",
        "Spirit receiver",
        *fields.DIPPED,
        stages=(Stage.NEW_SPIRIT.value,),
        purposes=(Purpose.SPIRIT.value,),
        assumed=True,
    ),
    usual_percent=SPIRIT_PERCENT,
)
FEINTS = Receiver(
    field="feints_receiver",
    named="feints receiver",
    before="feints_receiver_before",
    after="feints_receiver_after",
    still="still",
    vessel=fields.vessel(
        "feints_receiver",
        "Feints from and to",
        *fields.DIPPED,
        stages=(Stage.LOW_WINES.value,),
        purposes=(Purpose.FEINTS.value,),
        assumed=True,
    ),
    usual_percent=FEINTS_PERCENT,
)


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """Cut, feints, lees and times, beside other runs of the same still."""
    started, ended, like = written.moment("charged_at"), written.moment("ended_at"), written.vessel("still").code
    charged = [(written, f"{name}_{when}") for name in ("low_wines", "feints") for when in ("before", "after")]
    cut = SPIRIT.gauges(written)

    def lees() -> float:
        return written.real("spent_lees_litres")

    def cut_of_charge(*held: Held) -> float:
        wines_before, wines_after, feints_before, feints_after = (one.lpa for one in held[len(cut) :])
        return 100.0 * gained_lpa(*held[: len(cut)]) / (wines_before - wines_after + feints_before - feints_after)

    def charge_litres(*charge: Held) -> float:
        wines_before, wines_after, feints_before, feints_after = (one.litres for one in charge)
        return wines_before - wines_after + feints_before - feints_after

    found = Compared(ended)
    found.with_kind(
        "average strength of the cut",
        lambda: from_gauges(average_percent, *cut),
        like=like,
        field="spirit_after_hydrometer_percent",
        unit="% vol",
    )
    found.with_kind(
        "share of the charge in the cut",
        lambda: from_gauges(cut_of_charge, *cut, *charged),
        like=like,
        field="spirit_after_dip_mm",
        unit="%",
    )
    found.with_kind(
        "average strength of the feints",
        lambda: from_gauges(average_percent, *FEINTS.gauges(written)),
        like=like,
        field="feints_receiver_after_hydrometer_percent",
        unit="% vol",
    )
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
