"""Which vessel is kept for what, told from the runs themselves where the plant's table does not say.

A run's table need not name every vessel: the stills are not among the vessels, low wines come from where wash runs
send them, heads and tails go to a tank of their own. What can be told is written into the rows and kept on the
vessel; what cannot be told is a bad row that names the column to add.
"""

from __future__ import annotations

from collections.abc import Iterable

from batches.loading.tables import BadRow, Line, Table
from distillery.plant import keeping
from distillery.plant.models import Kind, Purpose, Stage, Vessel

THIRD_STILL = "TS"
SAYS_HEADS_AND_TAILS = ("heads", "tails")
# Two dips of the same liquid by two hands agree within this; common practice, no source.
SAME_DIP_MM = 5.0


def settle(tables: dict[str, Table], bad: list[BadRow]) -> None:
    """Makes the stills, notes what vessels are kept for, and fills in what the runs leave out.

    `tables` are the log's by name; their lines' cells are added to.
    """
    wash, spirit, third = (tables.get(name) for name in ("wash_runs", "spirit_runs", "third_still_runs"))
    vessels = {vessel.code.casefold(): vessel for vessel in Vessel.objects.all()}
    _stills(vessels, wash, "still", Stage.WASH)
    _stills(vessels, spirit, "still", Stage.LOW_WINES)
    _stills(vessels, third, "third_still", Stage.RECTIFIED)
    _keep_for(vessels, _named(wash, "receiver"), Purpose.LOW_WINES)
    _keep_for(vessels, _named(spirit, "feints_receiver"), Purpose.FEINTS)
    _keep_for(vessels, _named(spirit, "spirit_receiver"), Purpose.SPIRIT)
    _keep_for(vessels, _named(third, "heads_tails_vessel"), Purpose.HEADS_AND_TAILS)
    if spirit is not None:
        named = {code.casefold(): code for code in _named(wash, "receiver")}
        candidates = list(named.values()) or _codes(vessels, purpose=Purpose.LOW_WINES)
        _fill_in(spirit, "low_wines_receiver", candidates, "wash runs send low wines to", bad)
    if third is not None:
        _third_still(vessels, third, bad)
        tanks = _heads_and_tails(vessels, tables)
        if len(tanks) == 1:
            _keep_for(vessels, tanks, Purpose.HEADS_AND_TAILS)
        _fill_in(third, "heads_tails_vessel", tanks, "heads and tails could go to", bad)


def _stills(vessels: dict[str, Vessel], table: Table | None, column: str, stage: Stage) -> None:
    for code in _named(table, column):
        if code.casefold() not in vessels:
            vessels[code.casefold()] = keeping.add_still(code=code, name=f"{_STILL_NAMES[stage]} {code}", stage=stage)


_STILL_NAMES = {Stage.WASH: "Wash still", Stage.LOW_WINES: "Spirit still", Stage.RECTIFIED: "Third still"}


def _third_still(vessels: dict[str, Vessel], table: Table, bad: list[BadRow]) -> None:
    """The third still, where the runs do not name it: the only one there is, or one made for them."""
    stills = _codes(vessels, kind=Kind.STILL, stage=Stage.RECTIFIED)
    if not stills and any("third_still" not in line.cells for line in table.lines):
        code = THIRD_STILL if THIRD_STILL.casefold() not in vessels else f"{THIRD_STILL} still"
        vessels[code.casefold()] = keeping.add_still(code=code, name="Third still", stage=Stage.RECTIFIED)
        stills = [code]
    _fill_in(table, "third_still", stills, "the third stills are", bad)


def _heads_and_tails(vessels: dict[str, Vessel], tables: dict[str, Table]) -> list[str]:
    """Vessels that heads and tails could go to: kept for them, named for them, or the one nothing else uses."""
    kept = _codes(vessels, purpose=Purpose.HEADS_AND_TAILS)
    if kept:
        return kept
    of_stage = [
        vessel
        for vessel in vessels.values()
        if vessel.stage == Stage.RECTIFIED and vessel.kind not in (Kind.STILL, Kind.CASK, Kind.WASHBACK)
    ]
    by_name = [
        vessel.code for vessel in of_stage if any(word in vessel.name.casefold() for word in SAYS_HEADS_AND_TAILS)
    ]
    if by_name:
        return by_name
    used = {
        code.casefold()
        for name, column in (
            ("third_still_runs", "product_vessel"),
            ("third_still_runs", "source"),
            ("transfers", "from_vessel"),
            ("transfers", "to_vessel"),
            ("reductions", "vessel"),
            ("bottlings", "vat"),
            ("cask_fills", "vat"),
        )
        for code in _named(tables.get(name), column)
    }
    unused = [vessel.code for vessel in of_stage if vessel.code.casefold() not in used]
    return _of_the_same_dips(unused, tables) or unused if len(unused) > 1 else unused


def _of_the_same_dips(codes: list[str], tables: dict[str, Table]) -> list[str]:
    """Of several vessels, those that stood at the dips of the heads and tails before the first run and after the last.

    A vessel that the opening stock or the stock take does not list is taken as empty.
    """
    lines = sorted(tables["third_still_runs"].lines, key=lambda line: line.cells.get("charged_at", ""))
    looks = (
        ("opening_stock", lines[0], "heads_tails_before_dip_mm"),
        ("stock_take", lines[-1], "heads_tails_after_dip_mm"),
    )
    fitting = codes
    for name, run, column in looks:
        table, dip = tables.get(name), _millimetres(run.cells.get(column, ""))
        if table is None or not table.lines or dip is None:
            continue
        stood = {
            line.cells.get("vessel", "").casefold(): _millimetres(line.cells.get("gauge_dip_mm", ""))
            for line in table.lines
        }
        fitting = [code for code in fitting if abs((stood.get(code.casefold()) or 0.0) - dip) <= SAME_DIP_MM]
    return fitting


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


def _named(table: Table | None, column: str) -> list[str]:
    """What a column names, each once, in order."""
    if table is None:
        return []
    return list(dict.fromkeys(line.cells[column] for line in table.lines if column in line.cells))


def _codes(vessels: dict[str, Vessel], **wanted: str) -> list[str]:
    return [
        vessel.code
        for vessel in vessels.values()
        if all(getattr(vessel, name) == value for name, value in wanted.items())
    ]
