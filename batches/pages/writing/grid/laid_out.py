"""How a sheet lies on the page: strips of boxes, a table with one row a gauge, a table with one row a repeating line.

All of it follows from the sheet's declaration. A vessel stands once, at the head of its gauges, with what it is gauged
with and what its book holds; the heads of the columns carry unit and usual range; each box has a label of its own that
says vessel, moment and unit, hidden where the heads say it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from django.forms import BoundField

from batches.pages.writing.boxes import ShownBox, usual_range
from batches.pages.writing.forms import EntryForm, SheetForm
from batches.pages.writing.grid.heads import VesselHeads
from batches.pages.writing.grid.parts import Block, Cell, Column, GaugeTable, GridRow, LineTable, VesselGroup
from batches.pages.writing.grid.worked_out import CameTo
from batches.sheets.gauges import GRAVITIES, By
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Field, Gauge, Section

# Heads of the columns of a gauge, with the unit where the field's own does not say it all.
HEADS: Final[Mapping[str, tuple[str, str]]] = {
    "tare_kg": ("Tare", "kg"),
    "gross_kg": ("Gross", "kg"),
    "dip_mm": ("Dip", "mm"),
    "celsius": ("Temperature", "°C"),
    "hydrometer_percent": ("Hydrometer", "% vol, as it reads"),
    "litres": ("Or litres", "by meter or dip"),
    "percent": ("Strength", "% vol at 20 °C"),
    "original_gravity": ("Original gravity", ""),
    "final_gravity": ("Final gravity", ""),
}


class Layout:
    """The parts of a sheet as they follow one another on the page."""

    def __init__(self, entry: EntryForm, heads: VesselHeads, apart: frozenset[str] = frozenset()) -> None:
        self._entry = entry
        self._heads = heads
        # Boxes that stand elsewhere on the page, by their names.
        self._apart = apart
        self._placed: set[str] = set()
        self._helps: dict[str, tuple[str, str]] = {}

    # -- the single fields

    def blocks(self) -> list[Block]:
        """Strips and tables in the order of the sheet; gauges that follow one another stand in one table."""
        found: list[Block] = []
        for section in self._entry.sections_shown():
            self._lay(section, found)
        return [one for one in found if one.boxes or one.table]

    def _lay(self, section: Section, found: list[Block]) -> None:
        moment = self._entry.sheet.moment_of(section.fields[0].name).name
        in_rows = self._in_rows(section)
        loose = [one for one in section.fields if one.name not in in_rows and one.name in self._entry.form.fields]
        gauges = [one for one in section.gauges if one.fields[0].name in self._entry.form.fields]
        first = section.fields.index(gauges[0].fields[0]) if gauges else len(section.fields)
        before = [one for one in loose if section.fields.index(one) < first]
        after = [one for one in loose if one not in before]
        goes_on = bool(
            gauges and not before and not section.caution and found and found[-1].table and found[-1].moment == moment
        )
        if not goes_on:
            if before or not gauges:
                found.append(Block(moment, section.heading, section.caution, self._boxes(before)))
            if gauges:
                found.append(Block(moment) if before else Block(moment, section.heading, section.caution))
        if gauges:
            table = found[-1].table
            found[-1].table = self._gauges(gauges, section.heading, table)
            if table is not None:
                # The heading was that of its first section alone.
                found[-1].heading = ""
        if after:
            found.append(Block(moment, boxes=self._boxes(after)))

    def _in_rows(self, section: Section) -> set[str]:
        """Fields that stand in the rows of gauges: readings, the vessel at their head, gravities beside a dip."""
        names: set[str] = set()
        moment = self._entry.sheet.moment_of(section.fields[0].name)
        for gauge in self._entry.sheet.gauges:
            if self._entry.sheet.moment_of(gauge.fields[0].name) is moment:
                names |= {one.name for one in gauge.fields}
                names.add(gauge.vessel)
                names |= set(self._gravities(gauge))
        return names

    def _gravities(self, gauge: Gauge) -> tuple[str, ...]:
        """The gravities of wash that are written down with its dip, at the same moment."""
        sheet = self._entry.sheet
        if gauge.by != By.WASH_DIP or gauge.gravities_of or gauge.present_gravity:
            return ()
        moment = sheet.moment_of(gauge.fields[0].name)
        return tuple(name for name in GRAVITIES if sheet.has_field(name) and sheet.moment_of(name) is moment)

    def _gauges(self, gauges: Sequence[Gauge], caption: str, table: GaugeTable | None) -> GaugeTable:
        gauges = [self._followed(one) for one in gauges]
        together = [*self._of_table(table), *gauges]
        parts = [part for part in HEADS if any(part in (*one.parts_shown, *self._gravities(one)) for one in together)]
        columns = [self._column(part, together) for part in parts]
        groups: list[VesselGroup] = []
        boxes = {group.vessel: group.box for group in table.groups} if table else {}
        for gauge in together:
            group = next((one for one in groups if one.vessel == gauge.vessel), None)
            if group is None:
                group = self._group(gauge, columns, boxes.get(gauge.vessel))
                groups.append(group)
            group.rows.append(self._row(gauge, parts))
        return GaugeTable(table.caption if table else caption, columns, groups)

    def _of_table(self, table: GaugeTable | None) -> Iterator[Gauge]:
        for group in table.groups if table else ():
            for row in group.rows:
                yield self._followed(self._entry.sheet.gauge(row.key))

    def _followed(self, gauge: Gauge) -> Gauge:
        """A gauge of the vessel that it is taken of by what stands on the page."""
        return gauge.following(lambda name: bool(self._entry.stands(name)))

    def _column(self, part: str, gauges: Sequence[Gauge]) -> Column:
        label, unit = HEADS[part]
        usual = {_usual(one) for gauge in gauges if (one := self._field(gauge, part)) is not None}
        return Column(label, unit, usual.pop() if len(usual) == 1 else "", part=part)

    def _field(self, gauge: Gauge, part: str) -> Field | None:
        """The field of one part of a gauge; None where it has none of its own."""
        names = {gauge.name(one): one for one in gauge.parts_shown} | {name: name for name in self._gravities(gauge)}
        own = {one.name for one in gauge.fields} | set(self._gravities(gauge))
        name = next((name for name, one in names.items() if one == part and name in own), "")
        return self._entry.sheet.field(name) if name else None

    def _group(self, gauge: Gauge, columns: Sequence[Column], box: ShownBox | None) -> VesselGroup:
        sheet = self._entry.sheet
        here = sheet.moment_of(gauge.vessel) is sheet.moment_of(gauge.fields[0].name)
        elsewhere = self._placed | self._apart
        if box is None and here and gauge.vessel in self._entry.form.fields and gauge.vessel not in elsewhere:
            box = self._entry.shown(self._entry.form, sheet.field(gauge.vessel))
            self._placed.add(gauge.vessel)
        label = sheet.field(gauge.vessel).label
        code = self._entry.stands(gauge.vessel)
        usual = [
            f"{column.label.lower()} {_usual(one)}"
            for column in columns
            if not column.usual and (one := self._field(gauge, column.part)) is not None and _usual(one)
        ]
        return VesselGroup(
            gauge.vessel,
            label if box is not None else self._named(gauge.vessel),
            code if box is None else "",
            self._heads.about(code, gauge.by),
            box,
            ", ".join(usual),
        )

    def _row(self, gauge: Gauge, parts: Sequence[str]) -> GridRow:
        cells = []
        for part in parts:
            one = self._field(gauge, part)
            if one is None:
                as_before = part == "celsius" and gauge.celsius_from
                cells.append(Cell(said="as before" if as_before else ""))
                continue
            asked = f"{gauge.when_taken}: {_said(part, one)}"
            cells.append(self._cell(self._entry.form, one, asked, part, gauge.vessel))
        head, came = _capital(gauge.when_taken), self._entry.came.get(gauge.prefix)
        boxes = [cell.box for cell in cells if cell.box is not None]
        apart = len(boxes) < len(gauge.fields) or any(box.value.strip() or box.bound.errors for box in boxes)
        return GridRow(gauge.prefix, head, cells, came, shared="" if apart else self._shared(gauge))

    def _shared(self, gauge: Gauge) -> str:
        """The gauge that another one is where it is left blank, in words; blank for one that is no other."""
        if not gauge.same_as:
            return ""
        if not gauge.same_of:
            return f"The same gauge as {self._entry.sheet.gauge(gauge.same_as).when_taken}"
        other = sheet_of(self._entry.sheet.field(gauge.same_of).record_kind)
        return f"The gauge {other.gauge(gauge.same_as).when_taken} of the {other.title.lower()}"

    def _named(self, vessel: str) -> str:
        """The vessel that a field names, by its own name; by the field's label while none is named."""
        return self._heads.name(self._entry.stands(vessel)) or self._entry.sheet.field(vessel).label

    def _cell(self, form: SheetForm, one: Field, asked: str, part: str = "", vessel: str = "") -> Cell:
        if form[one.name].html_name in self._apart:
            return Cell(said="above")
        box = self._entry.shown(form, one)
        # What a column means is said once for all its boxes: usual in its head, help one key away.
        box.typed.beside = ""
        if box.bound.help_text:
            self._helps.setdefault(f"help-{part or one.name}", (_head(part, one)[0], str(box.bound.help_text)))
            box.bound.help_text = ""
            box.bound.field.widget.attrs["aria-describedby"] = f"help-{part or one.name}"
        short = _capital(_said(part, one))
        return Cell(box, asked, short=short, vessel=vessel, name=self._named(vessel) if vessel else "")

    def _boxes(self, fields: Sequence[Field]) -> list[ShownBox]:
        return [self._entry.shown(self._entry.form, one) for one in fields if one.name not in self._apart]

    # -- the repeating lines

    def lines(self) -> LineTable | None:
        """One row a line; None where none are on the page."""
        rows = self._entry.sheet.rows
        if rows is None or not self._entry.has_lines:
            return None
        parts = {gauge.name(part): part for gauge in rows.gauges for part in gauge.parts_shown}
        # Either is written: the head of the litres says so.
        either = {gauge.name(part) for gauge in rows.gauges if gauge.or_litres for part in gauge.parts_shown}
        columns = []
        for one in rows.fields:
            part = parts.get(one.name, "")
            label, unit = _head(part, one)
            optional = not one.required and part not in ("celsius", "hydrometer_percent") and one.name not in either
            columns.append(Column(label, unit, _usual(one), optional, part))

        def row(form: SheetForm, place: str, came: CameTo | None) -> GridRow:
            head = f"{_capital(rows.one)} on line {place}"
            cells = [
                self._cell(form, one, f"{head}: {_said(parts.get(one.name, ''), one)}", parts.get(one.name, ""))
                for one in rows.fields
            ]
            return GridRow(form.prefix or "", place, cells, came, bool(rows.gauges))

        shown = [
            row(form, str(place + 1), next(iter(self._entry.came_of_line.get(place, {}).values()), None))
            for place, form in enumerate(self._entry.lines)
        ]
        return LineTable(rows.heading, columns, shown, row(self._entry.spare, "", None), bool(rows.gauges))

    # -- help

    def helps(self) -> list[tuple[str, str, str]]:
        """What is said of the boxes laid out so far, one key away: an id, the label, the words."""
        found = [(key, label, words) for key, (label, words) in self._helps.items()]
        for bound in self._entry.form:
            if bound.help_text:
                found.append((f"{bound.auto_id}_helptext", str(bound.label), str(bound.help_text)))
        return found


def _head(part: str, one: Field) -> tuple[str, str]:
    """The head of a column, and its unit."""
    return HEADS[part] if part else (one.label, shown_unit(one))


def shown_unit(one: Field) -> str:
    """The unit as it is shown; a relative density has none."""
    return "" if one.unit == "relative density" else one.unit


def _said(part: str, one: Field) -> str:
    """What a box asks for, with its unit: 'dip, mm'."""
    label, unit = _head(part, one)
    return f"{label.lower()}, {unit}" if unit else label.lower()


def _usual(one: Field) -> str:
    """'usual 5 to 30', to stand behind a label; or nothing."""
    said = usual_range(one).rstrip(".")
    return f"{said[:1].lower()}{said[1:]}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def first_empty(blocks: Sequence[Block], lines: LineTable | None) -> BoundField | None:
    """The first box with nothing in it, in the order of the page; those folded away left out."""
    boxes = [box for block in blocks for box in block.all_boxes()]
    boxes += [cell.box for row in (lines.rows if lines else ()) for cell in row.cells if cell.box is not None]
    return next((box.bound for box in boxes if not box.value.strip()), None)
