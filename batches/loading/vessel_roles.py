"""Which vessel is kept for what, told from the tables themselves where the plant's table does not say.

A log's tables need not name every vessel: the stills are not among the vessels, low wines come from where wash runs
send them, heads and tails go to a tank of their own. The sheets say which columns may be left out and how they are told
(`ToldBy`). What can be told is written into the rows and kept on the vessel; what cannot be told is a bad row that
names the column to add.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from batches.loading.tables import BadRow, Line, Table
from batches.sheets.sheet import Field, Gauge, Kind, Role, Sheet, StockTaken, ToldBy
from batches.steps import STEPS
from distillery.plant import keeping
from distillery.plant.lookup import Plant
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Purpose, Stage, Vessel

# Two dips of the same liquid by two hands agree within this; common practice, no source.
SAME_DIP_MM = 5.0

Tables = Mapping[str, Table]
Vessels = dict[str, Vessel]


def settle(tables: Tables, bad: list[BadRow]) -> None:
    """Makes the stills, notes what vessels are kept for, and fills in what the tables leave out.

    `tables` are the log's by name; their lines' cells are added to.
    """
    named = [(sheet, one, table) for sheet, one, table in _vessel_fields(tables) if not sheet.in_plant]
    vessels = _there(named)
    for _sheet, one, table in named:
        if one.vessel_kinds == (VesselKind.STILL,) and len(one.stages) == 1:
            _stills(vessels, _named(table, one.name), one)
    for _sheet, one, table in named:
        if len(one.purposes) == 1:
            _keep_for(vessels, _named(table, one.name), Purpose(one.purposes[0]))
    for sheet, one, table in named:
        if one.told_by is None or all(one.name in line.cells for line in table.lines):
            continue
        fitting = _fitting(vessels, sheet, one, one.told_by, tables)
        if len(fitting) == 1 and len(one.purposes) == 1:
            _keep_for(vessels, fitting, Purpose(one.purposes[0]))
        _fill_in(table, one.name, fitting, one.told_by.says, bad)


def _there(named: Iterable[tuple[Sheet, Field, Table]]) -> Vessels:
    """The site's fixed vessels, and what else has a code that the tables name or that a still could be given."""
    plant = Plant()
    fixed = {vessel.code.casefold(): vessel for vessel in plant.vessels()}
    codes = {code for _, one, table in named for code in _named(table, one.name)}
    codes |= {one.told_by.made_as for _, one, _ in named if one.told_by is not None and one.told_by.made_as}
    plant.look_up(codes)
    others = [vessel for code in sorted(codes) if (vessel := plant.vessel(code)) is not None]
    return fixed | {vessel.code.casefold(): vessel for vessel in others}


def _vessel_fields(tables: Tables) -> Iterator[tuple[Sheet, Field, Table]]:
    """The fields of a vessel that stand once on a sheet whose table is there."""
    for sheet in STEPS:
        if sheet.table in tables:
            for one in sheet.fields:
                if one.kind == Kind.VESSEL:
                    yield sheet, one, tables[sheet.table]


def _fitting(vessels: Vessels, sheet: Sheet, field: Field, told: ToldBy, tables: Tables) -> list[str]:
    """The vessels that a column left out could name: those the log names for the same, or else those of the plant."""
    if told.made_as:
        return _made(vessels, field, told.made_as)
    if told.unused:
        return _unused(vessels, sheet, field, told, tables)
    purpose = field.purposes[0]
    others = [
        code
        for _sheet, other, table in _vessel_fields(tables)
        if other is not field and other.purposes == field.purposes
        for code in _named(table, other.name)
    ]
    return list({code.casefold(): code for code in others}.values()) or _codes(vessels, purpose=purpose)


def _stills(vessels: Vessels, codes: Iterable[str], field: Field) -> None:
    stage = Stage(field.stages[0])
    for code in codes:
        if code.casefold() not in vessels:
            vessels[code.casefold()] = keeping.add_still(
                code=code, name=f"{field.made_as or field.label} {code}", stage=stage
            )


def _made(vessels: Vessels, field: Field, code: str) -> list[str]:
    """The stills of a stage, where no row names them: those there are, or one made for them."""
    stage = Stage(field.stages[0])
    stills = _codes(vessels, kind=VesselKind.STILL, stage=stage)
    if not stills:
        code = code if code.casefold() not in vessels else f"{code} still"
        vessels[code.casefold()] = keeping.add_still(code=code, name=field.made_as or field.label, stage=stage)
        stills = [code]
    return stills


def _unused(vessels: Vessels, sheet: Sheet, field: Field, told: ToldBy, tables: Tables) -> list[str]:
    """Vessels that are kept for something, named for it, or used for nothing else."""
    kept = _codes(vessels, purpose=field.purposes[0])
    if kept:
        return kept
    of_stage = [
        vessel for vessel in vessels.values() if vessel.stage in field.stages and vessel.kind in field.vessel_kinds
    ]
    by_name = [vessel.code for vessel in of_stage if any(word in vessel.name.casefold() for word in told.named_with)]
    if by_name:
        return by_name
    used = {
        code.casefold()
        for other_sheet, other, table in _vessel_fields(tables)
        if other is not field and other_sheet.takes_stock is None
        for code in _named(table, other.name)
    }
    unused = [vessel.code for vessel in of_stage if vessel.code.casefold() not in used]
    return _of_the_same_dips(unused, sheet, field, tables) or unused if len(unused) > 1 else unused


def _of_the_same_dips(codes: list[str], sheet: Sheet, field: Field, tables: Tables) -> list[str]:
    """Of several vessels, those whose stock agrees with the field's dips: the opening stock with the first run, the
    stock take with the last.

    A vessel that the opening stock or the stock take does not list is taken as empty.
    """
    when = sheet.moments[0].when
    lines = sorted(tables[sheet.table].lines, key=lambda line: line.cells.get(when, ""))
    fitting = codes
    for stock, run, role in (
        (StockTaken.OPENING, lines[0], Role.BEFORE),
        (StockTaken.AGAIN, lines[-1], Role.AFTER),
    ):
        dips = [
            gauge.name("dip_mm")
            for gauge in sheet.gauges
            if gauge.vessel == field.name and gauge.role == role and not sheet.moment_of(gauge.name("dip_mm")).optional
        ]
        dip = _millimetres(run.cells.get(dips[0], "")) if dips else None
        stood = _stood(stock, tables)
        if stood and dip is not None:
            fitting = [code for code in fitting if abs((stood.get(code.casefold()) or 0.0) - dip) <= SAME_DIP_MM]
    return fitting


def _stood(stock: StockTaken, tables: Tables) -> dict[str, float | None]:
    """The dip of each vessel where all stock was taken, by its code in small letters."""
    gauged: list[tuple[Gauge, Table]] = [
        (gauge, tables[sheet.table])
        for sheet in STEPS
        if sheet.takes_stock == stock and sheet.table in tables
        for gauge in (*sheet.gauges, *(sheet.rows.gauges if sheet.rows else ()))
    ]
    return {
        line.cells.get(gauge.vessel, "").casefold(): _millimetres(line.cells.get(gauge.name("dip_mm"), ""))
        for gauge, table in gauged
        for line in table.lines
    }


def _millimetres(typed: str) -> float | None:
    try:
        return float(typed)
    except ValueError:
        return None


def _fill_in(table: Table, column: str, candidates: list[str], why: str, bad: list[BadRow]) -> None:
    for line in table.lines:
        if column in line.cells:
            continue
        if len(candidates) == 1:
            line.cells[column] = candidates[0]
        else:
            bad.append(_untold(table, line, column, candidates, why))


def _untold(table: Table, line: Line, column: str, candidates: list[str], why: str) -> BadRow:
    several = f"{why} {', '.join(candidates)}" if candidates else "none can be told from the other tables"
    return BadRow(
        table.file, line.row, column, f"The row does not say which vessel, and {several}; add a column {column}."
    )


def _keep_for(vessels: dict[str, Vessel], codes: Iterable[str], purpose: Purpose) -> None:
    for code in codes:
        vessel = vessels.get(code.casefold())
        if vessel is not None and not vessel.purpose:
            keeping.keep_for(vessel, purpose)


def _named(table: Table, column: str) -> list[str]:
    """What a column names, each once, in order."""
    return list(dict.fromkeys(line.cells[column] for line in table.lines if column in line.cells))


def _codes(vessels: dict[str, Vessel], **wanted: str) -> list[str]:
    return [
        vessel.code
        for vessel in vessels.values()
        if all(getattr(vessel, name) == value for name, value in wanted.items())
    ]
