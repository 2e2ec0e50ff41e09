"""Cask fill: a vat drawn into casks, each weighed empty and full or filled by meter, the vat gauged before and after.

Filling strength is usually about 63.5 % vol. A refilled cask is a new fill on the same cask.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import CASKS, STATIC, VAPOUR
from batches.sheets.declared import NewCask
from batches.sheets.sheet import (
    By,
    Gauge,
    Material,
    MaterialKind,
    Moment,
    Note,
    OfCasks,
    Phase,
    Posting,
    Problem,
    Role,
    Rows,
    Section,
    Sheet,
)
from batches.sheets.typed.completed import Completed, Written
from batches.steps.shared.books import full_already
from batches.steps.shared.bought_casks import pieces_already
from batches.steps.shared.figures import Compared, Figure, Held, against, from_gauges, reading
from batches.steps.shared.judged import what_left
from batches.steps.shared.places import LONGEST_PLACE, LONGEST_WAREHOUSE, unlikely_place
from distillery import figures
from distillery.alcoholometry.quantity import whole_grams
from distillery.plant import keeping
from distillery.plant.models import MICRO
from distillery.plant.models import Kind as VesselKind
from ledger.posting.accounts import difference, gauging
from ledger.posting.drafts import FigureTaken

# A cask is filled to the bung less a little; more than this over its nominal size is worth a second look.
MOST_OF_NOMINAL = 1.1


def filled(written: Completed) -> Posting:
    """The vat before, each cask by weight or by litres, the vat after."""
    vat = written.account("vat")
    casks = tuple(line.weighed(vat, line.account("cask"), field="cask") for line in written.rows)
    return Posting(
        (
            written.taken("vat_before", gauging(written.vessel("vat"))),
            *casks,
            written.taken("vat_after", difference("cask fill")),
        ),
        figures=compared(written),
        judged=what_left(written, "what left the vat", ("vat_before", "vat_after")),
    )


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """Each cask beside its kind and its fill-mates: how full, how heavy empty, how strong beside the vat."""
    found = Compared(written.moment("at"))
    for line in written.rows:
        _of_cask(found, written, line)
    return found.figures


def _of_cask(found: Compared, written: Completed, line: Written) -> None:
    cask = line.vessel("cask").cask
    nominal = cask.nominal_ul / MICRO
    like = f"{cask.kind} {nominal:g} L"

    def filled_of_size(held: Held) -> float:
        return 100.0 * held.litres / nominal

    def strength() -> tuple[Figure, float]:
        return against(
            lambda vat, held: held.percent, lambda vat, held: vat.percent, (written, "vat_before"), (line, "")
        )

    found.with_kind(
        "filled of its size",
        lambda: from_gauges(filled_of_size, (line, "")),
        like=like,
        beside=written.number,
        field=line.amount_of(""),
        unit="%",
    )
    if line.has("tare_kg"):
        found.with_kind(
            "tare", lambda: reading(line, "tare_kg"), like=like, beside=written.number, field="tare_kg", unit="kg"
        )
    found.with_reading("strength beside the vat", strength, field="hydrometer_percent", unit="% vol")


def empty_casks_only(written: Completed) -> list[Problem]:
    """A cask that still holds something is not filled."""
    problems = []
    for index, line in enumerate(written.rows):
        sentence = full_already(line.vessel("cask"), written.moment("at"), written.number)
        if sentence:
            problems.append(Problem("cask", index, sentence))
    return problems


def to_be_right(written: Completed) -> list[Problem]:
    """Casks that are empty, and that leave their lot once."""
    return [*empty_casks_only(written), *pieces_already(written)]


def sizes(written: Completed) -> list[Note]:
    """A cask with far more in it than its size, or written down as another kind than it is."""
    notes = []
    for index, line in enumerate(written.rows):
        vessel = line.vessel("cask")
        litres = line.quantity("").litres20
        nominal = vessel.cask.nominal_ul / MICRO
        if litres > nominal * MOST_OF_NOMINAL:
            notes.append(
                Note(
                    line.amount_of(""),
                    index,
                    f"Cask {vessel.code} comes to {figures.litres(litres)} litres; its size is {nominal:g} litres.",
                )
            )
        if line.has("warehouse"):
            place = (line.text("warehouse"), line.text("row"), line.text("tier"))
            notes += unlikely_place(*place, field="row", line=index)
        kind = line.text("cask_kind")
        if kind and kind != vessel.cask.kind:
            notes.append(Note("cask_kind", index, f"Cask {vessel.code} is on the site's list as a {vessel.cask.kind}."))
    return notes


def note_the_fill(written: Completed) -> None:
    """The cask's own entry: its tare, its fill, where it lies, and since when it is full."""
    for line in written.rows:
        cask = line.vessel("cask").cask
        keeping.note_fill(
            cask,
            tare_g=whole_grams(line.real("tare_kg")) if line.has("tare_kg") else cask.tare_g,
            filled_at=written.moment("at"),
            fill_number=line.whole("fill_number") if line.has("fill_number") else None,
            warehouse=line.text("warehouse", cask.warehouse),
        )


SHEET = Sheet(
    kind="cask_fill",
    title="Cask fill",
    plural="Cask fills",
    operation="cask fill",
    table="cask_fills",
    prefix="CF",
    number_column="fill",
    moments=(Moment(name="filled", label="Fill", when="at", phase=Phase.MOVE, post=filled),),
    sections=(
        Section(
            heading="Vat",
            items=(
                fields.when("at", "Filled at"),
                fields.vessel("vat", "Vat", *fields.DIPPED),
                Gauge(prefix="vat_before", label="Vat before", vessel="vat", role=Role.BEFORE),
                Gauge(prefix="vat_after", label="Vat after", vessel="vat", role=Role.AFTER),
            ),
        ),
    ),
    rows=Rows(
        heading="Casks",
        one="cask",
        each="cask",
        items=(
            fields.vessel("cask", "Cask", VesselKind.CASK, new_as=NewCask(kind="cask_kind", litres="nominal_litres")),
            fields.text("cask_kind", "Kind of cask", required=False),
            fields.count("fill_number", "Fill", usual=("1", "6"), required=False),
            fields.litres("nominal_litres", "Nominal size", decimals=0, usual=("30", "700"), required=False),
            Gauge(
                prefix="",
                label="Cask",
                vessel="cask",
                role=Role.AFTER,
                by=By.WEIGHT,
                or_litres=True,
                usual_percent=("55", "72"),
            ),
            fields.text("warehouse", "Warehouse", longest=LONGEST_WAREHOUSE, required=False),
            fields.text("row", "Row", longest=LONGEST_PLACE, required=False),
            fields.text("tier", "Tier", longest=LONGEST_PLACE, required=False),
            fields.name("cask_lot", "Bought in lot", lot=True, required=False),
        ),
    ),
    cautions=(CASKS, VAPOUR, STATIC),
    list_columns=("at", "vat", "vat_before_dip_mm", "vat_after_dip_mm"),
    after="reduction",
    of_casks=OfCasks(cask="cask", warehouse="warehouse", row="row", tier="tier", told=("cask_lot",)),
    materials=(Material(field="cask_lot", one_each=True, kind=MaterialKind.CASK),),
    printed_title="Cask filling sheet",
    check=to_be_right,
    note=sizes,
    keep=note_the_fill,
)
