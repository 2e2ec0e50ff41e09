"""Receipt under bond: spirit that comes from another site, gauged into a tank, with the consignor's figures beside it.

Goods are taken to account as they arrive (Excise Warehousing (Etc.) Regulations 1988, reg 11(2)); shortage and excess
are recorded at receipt (Excise Notice 197; SI 2010/593). The record ends with the report of receipt.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import CONFINED_SPACE, STATIC, VAPOUR
from batches.sheets.sheet import Gauge, Moment, Note, Phase, Posting, Proof, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.receipts import (
    OPERATION,
    REPORTED,
    SENT,
    UNDER_BOND,
    arrived,
    beyond_threshold,
    certified,
    delivered,
    reason_given,
    seals_broken,
    short_or_over,
    stated_otherwise,
    what_arrived,
    what_to_report,
)
from ledger.posting.accounts import difference, gauging, source
from ledger.posting.drafts import JudgedAgainst

GRAMS = "g/hL"
OF_PURE = "Grams for each hectolitre of pure alcohol."


def received(written: Completed) -> Posting:
    """What the document says was sent goes into the tank; what the gauge on arrival does not find is the difference."""
    tank = written.account("tank")
    sent = written.declared("consignor_litres", "consignor_percent", giver=source(UNDER_BOND), taker=tank)
    return Posting(
        (
            written.taken("tank_before", gauging(written.vessel("tank"))),
            sent,
            written.taken("tank_after", difference(OPERATION)),
        ),
        judged=JudgedAgainst("the consignor's figure", sent.quantity.pure_ul if sent is not None else None),
    )


def unlikely(written: Completed) -> list[Note]:
    """A document whose figures do not agree, and a gauge that is far from them."""
    notes = stated_otherwise(written)
    if beyond_threshold(written):
        said = f"{short_or_over(arrived(written))} than the consignor says, beyond the review threshold."
        notes.append(Note("tank_after_dip_mm", None, said))
    return notes + seals_broken(written)


SHEET = Sheet(
    kind="receipt_under_bond",
    title="Receipt under bond",
    plural="Receipts under bond",
    operation=OPERATION,
    table="receipts_under_bond",
    prefix="RB",
    number_column="receipt",
    moments=(
        Moment(name="received", label="Receipt", when="received_at", phase=Phase.DELIVERY, post=received),
        Moment(name="reported", label="Report of receipt", when="reported_at", phase=Phase.DELIVERY),
    ),
    sections=(
        Section(
            heading="Delivery",
            items=delivered("neutral spirit", "new make", "vodka", "gin"),
        ),
        Section(
            heading="Consignor's figures at 20 °C",
            items=SENT,
        ),
        Section(
            heading="Gauge on arrival",
            items=(
                fields.vessel("tank", "Into", *fields.DIPPED),
                Gauge(prefix="tank_before", label="Tank before", vessel="tank", role=Role.BEFORE),
                Gauge(prefix="tank_after", label="Tank after", vessel="tank", role=Role.AFTER),
            ),
        ),
        Section(
            heading="Certificate",
            items=(
                fields.name("certificate", "Certificate", found_as="document", required=False),
                fields.percent("distilled_percent", "Distilled to", usual=("90", "97.2"), required=False),
                fields.text("origin", "Origin", choices=("agricultural", "other"), longest=40, required=False),
                fields.text(
                    "base_material",
                    "Made from",
                    choices=("wheat", "barley", "rye", "maize", "malted barley", "potato", "molasses", "grapes"),
                    longest=60,
                    required=False,
                ),
                fields.number(
                    "methanol_g_per_hl",
                    "Methanol",
                    GRAMS,
                    decimals=2,
                    high="5000",
                    usual=("0", "30"),
                    required=False,
                    help=OF_PURE,
                ),
                fields.number(
                    "acidity_g_per_hl", "Acidity, as acetic acid", GRAMS, decimals=2, high="5000", required=False
                ),
                fields.number(
                    "esters_g_per_hl", "Esters, as ethyl acetate", GRAMS, decimals=2, high="5000", required=False
                ),
                fields.number(
                    "aldehydes_g_per_hl", "Aldehydes, as acetaldehyde", GRAMS, decimals=2, high="5000", required=False
                ),
                fields.number(
                    "higher_alcohols_g_per_hl", "Higher alcohols", GRAMS, decimals=2, high="5000", required=False
                ),
                fields.number("dry_extract_g_per_hl", "Dry extract", GRAMS, decimals=2, high="5000", required=False),
                fields.number(
                    "nitrogen_bases_g_per_hl", "Volatile nitrogen bases", GRAMS, decimals=2, high="5000", required=False
                ),
                fields.text("furfural", "Furfural", choices=("not detected", "found"), longest=40, required=False),
            ),
        ),
        REPORTED,
    ),
    cautions=(STATIC, VAPOUR, CONFINED_SPACE),
    list_columns=("received_at", "consignor", "document", "lot", "spirit", "tank", "reported_at"),
    after="intake",
    printed_title="Receipt under bond",
    check=reason_given,
    note=unlikely,
    results=(what_arrived, what_to_report, certified),
    proves=(
        Proof(measure="base strength", field="distilled_percent"),
        Proof(measure="base origin", field="origin"),
        Proof(measure="base material", field="base_material"),
        Proof(measure="methanol", field="methanol_g_per_hl"),
    ),
)
