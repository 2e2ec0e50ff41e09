"""The plant as a month's folder lists it: vessels with their tables, casks, instruments, recipes, and, where it says,
what is known of the measuring.

Each row is read like a field of a sheet. What is on the site already with the same figures is passed over; with
other figures it is a bad row, because a month's table is no way to change the plant.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.db.models import Max

from batches.loading.measuring_tables import MeasuringLoad
from batches.loading.plant_columns import PLANT
from batches.loading.tables import BadRow, Line, Source, Table
from batches.sheets.sheet import Field
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read
from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.lookup import Plant
from distillery.plant.models import (
    MICRO,
    CalibrationPoint,
    Cask,
    Instrument,
    Recipe,
    Stage,
    Vessel,
    WorksBy,
)
from distillery.plant.models import Kind as VesselKind

GRAMS = 1000
UM_PER_MM = 1000
MILLI = 1000
BILLION = 1_000_000_000

Values = dict[str, Decimal | int | datetime | str]


@dataclass(slots=True)
class PlantLoad:
    """The plant tables of a folder, and how many things were new and how many were there already."""

    source: Source
    bad: list[BadRow]
    # In whose hand certificates and obscurations are entered.
    hand: Callable[[], Person | None] = lambda: None
    added: dict[str, int] = field(default_factory=dict)
    passed_over: int = 0
    tables: dict[str, Table] = field(default_factory=dict)

    def read(self) -> None:
        """Reads all plant tables that are there."""
        for name, columns in PLANT.items():
            table = self.source.table(
                f"plant/{name}.csv",
                known=[one.name for one in columns],
                needed=[one.name for one in columns if one.required],
                bad=self.bad,
            )
            if table is not None:
                self.tables[name] = table
        for name in ("vessels", "calibration", "instruments"):
            missing = name not in self.tables and not self.source.has(f"plant/{name}.csv")
            if missing and self.source.is_a_month and not _on_site(name):
                self.bad.append(BadRow(f"plant/{name}.csv", 0, "", "The file is missing, and the site has none yet."))

    def write(self) -> None:
        """Puts what is new on the site, vessels first."""
        self._vessels()
        self._calibration()
        self._instruments()
        self._recipes()
        self._casks("empty_casks", "litres")
        self._casks("maturing_casks", "nominal_litres")
        measuring = MeasuringLoad(self._rows, self.bad, self.hand, self.source.note_there)
        measuring.write()
        self.added |= measuring.added
        self.passed_over += measuring.passed_over

    def _rows(self, name: str) -> Sequence[tuple[Line, Values]]:
        """The rows of a table whose cells can all be read; the others are bad."""
        table = self.tables.get(name)
        return [] if table is None else self._read_rows(table, PLANT[name])

    def _read_rows(self, table: Table, columns: tuple[Field, ...]) -> list[tuple[Line, Values]]:
        rows = []
        for line in table.lines:
            values: Values = {}
            fine = True
            for one in columns:
                if one.name not in line.cells:
                    if one.required and one.name in table.columns:
                        fine = False
                        self.bad.append(BadRow(table.file, line.row, one.name, f"{one.label} is blank."))
                    continue
                try:
                    values[one.name] = read(one, line.cells[one.name]).value
                except Unreadable as error:
                    fine = False
                    self.bad.append(BadRow(table.file, line.row, one.name, str(error)))
            if fine and all(one.name in values for one in columns if one.required):
                rows.append((line, values))
        return rows

    def _vessels(self) -> None:
        file = "plant/vessels.csv"
        rows = self._rows("vessels")
        plant = _plant(values["vessel"] for _, values in rows)
        order = Vessel.objects.aggregate(last=Max("order"))["last"] or 0
        fresh: dict[str, Vessel] = {}
        for line, values in rows:
            code = str(values["vessel"])
            capacity = values.get("capacity_litres")
            order += 1
            vessel = Vessel(
                code=code,
                name=str(values["name"]),
                kind=str(values["kind"]),
                stage=str(values["stage"]),
                purpose=str(values.get("kept_for", "")),
                capacity_ul=_whole(capacity, MICRO),
                order=order,
            )
            if code.casefold() in fresh:
                self.bad.append(BadRow(file, line.row, "vessel", f"Vessel {code} is listed twice."))
            elif (known := plant.vessel(code)) is not None:
                same = {
                    "name": known.name == vessel.name,
                    "kind": known.kind == vessel.kind,
                    "stage": known.stage == vessel.stage,
                    "kept_for": not vessel.purpose or known.purpose == vessel.purpose,
                    "capacity_litres": known.capacity_ul == vessel.capacity_ul,
                }
                self._passed_over(file, line, f"Vessel {code}", same)
            else:
                fresh[code.casefold()] = vessel
        self.added["vessels"] = keeping.add_vessels(fresh.values())

    def _calibration(self) -> None:
        file = "plant/calibration.csv"
        rows = self._rows("calibration")
        plant = _plant(values["vessel"] for _, values in rows)
        listed: dict[int, list[tuple[Line, int, int]]] = {}
        for line, values in rows:
            vessel = plant.vessel(str(values["vessel"]))
            if vessel is None:
                sentence = f"There is no vessel {values['vessel']} on this site."
                self.bad.append(BadRow(file, line.row, "vessel", sentence))
                continue
            dip, litres = _whole(values["dip_mm"], UM_PER_MM), _whole(values["litres"], MICRO)
            listed.setdefault(vessel.pk, []).append((line, dip or 0, litres or 0))
        there: dict[int, dict[int, int]] = {}
        points_there = CalibrationPoint.objects.filter(vessel__in=listed)
        for pk, dip, volume in points_there.values_list("vessel_id", "dip_um", "volume_ul"):
            there.setdefault(pk, {})[dip] = volume
        fresh = []
        for pk, points in listed.items():
            fresh += self._points(file, pk, points, there.get(pk, {}))
        self.added["calibration points"] = keeping.add_tables(fresh)

    def _points(
        self, file: str, pk: int, points: list[tuple[Line, int, int]], there: Mapping[int, int]
    ) -> list[CalibrationPoint]:
        """The points of one vessel's table: both columns rise from row to row."""
        fresh = []
        last_dip, last_volume = -1, -1
        for line, dip, volume in points:
            if dip <= last_dip or volume < last_volume:
                column, typed = ("dip_mm", "dip") if dip <= last_dip else ("litres", "volume")
                self.bad.append(
                    BadRow(file, line.row, column, f"The {typed} does not rise from the row before; check both rows.")
                )
            last_dip, last_volume = max(dip, last_dip), max(volume, last_volume)
            if there:
                same = {"litres": there.get(dip) == volume}
                self._passed_over(file, line, f"The table of {line.cells['vessel']}", same)
            else:
                fresh.append(CalibrationPoint(vessel_id=pk, dip_um=dip, volume_ul=volume))
        return _one_for_each_dip(fresh)

    def _instruments(self) -> None:
        there = {instrument.code: instrument for instrument in Instrument.objects.all()}
        fresh: dict[str, Instrument] = {}
        for line, values in self._rows("instruments"):
            code = str(values["instrument"])
            instrument = Instrument(
                code=code,
                measures=str(values["measures"]),
                unit=str(values["unit"]),
                resolution_millionths=_whole(values["resolution"], MICRO) or 0,
                standard_uncertainty_millionths=_whole(values["standard_uncertainty"], MICRO) or 1,
                reference_millicelsius=_whole(values.get("reference_celsius"), MILLI),
                works_by=str(values.get("works_by", WorksBy.FLOATING)),
                density_basis=str(values.get("density_basis", "")),
            )
            glass = _whole(values.get("glass_per_celsius"), BILLION)
            if glass is not None:
                instrument.glass_expansion_per_celsius_billionths = glass
            known = there.get(code) or fresh.get(code)
            if known is None:
                fresh[code] = instrument
                continue
            same = {
                "measures": known.measures == instrument.measures,
                "unit": known.unit == instrument.unit,
                "resolution": known.resolution_millionths == instrument.resolution_millionths,
                "standard_uncertainty": (
                    known.standard_uncertainty_millionths == instrument.standard_uncertainty_millionths
                ),
                "reference_celsius": known.reference_millicelsius == instrument.reference_millicelsius,
                "works_by": known.works_by == instrument.works_by,
                "density_basis": known.density_basis == instrument.density_basis,
                "glass_per_celsius": glass is None or known.glass_expansion_per_celsius_billionths == glass,
            }
            self._passed_over("plant/instruments.csv", line, f"Instrument {code}", same)
        self.added["instruments"] = keeping.add_instruments(fresh.values())

    def _recipes(self) -> None:
        # A table of the plant brings the first version of a recipe; later ones are entered on the site's own page.
        rows = Recipe.objects.filter(version=1)
        there = {(row.recipe, row.botanical): row.milligrams_per_lpa for row in rows}
        known = {recipe for recipe, _ in there}
        fresh = []
        for line, values in self._rows("recipes"):
            key = (str(values["recipe"]), str(values["botanical"]))
            milligrams = _whole(values["grams_per_lpa"], GRAMS) or 0
            if key in there:
                same = {"grams_per_lpa": there[key] == milligrams}
                self._passed_over("plant/recipes.csv", line, f"{key[1]} of recipe {key[0]}", same)
                continue
            if key[0] in known:
                said = (
                    f"Recipe {key[0]} is on this site without {key[1]}; enter a new version of it on the page Recipes."
                )
                self.bad.append(BadRow("plant/recipes.csv", line.row, "botanical", said))
                continue
            there[key] = milligrams
            fresh.append(Recipe(recipe=key[0], botanical=key[1], milligrams_per_lpa=milligrams))
        self.added["botanicals"] = keeping.add_recipes(fresh)

    def _casks(self, name: str, size: str) -> None:
        file = f"plant/{name}.csv"
        rows = self._rows(name)
        plant = _plant(values["number"] for _, values in rows)
        fresh: dict[str, Cask] = {}
        for line, values in rows:
            code = str(values["number"])
            nominal_ul = _whole(values[size], MICRO) or 0
            known = plant.vessel(code)
            if code.casefold() in fresh:
                self.bad.append(BadRow(file, line.row, "number", f"Cask {code} is listed twice."))
            elif known is not None and known.kind != VesselKind.CASK:
                self.bad.append(BadRow(file, line.row, "number", f"{code} is a {known.kind} on this site, not a cask."))
            elif known is not None:
                same = {"kind": known.cask.kind == values["kind"], size: known.cask.nominal_ul == nominal_ul}
                self._passed_over(file, line, f"Cask {code}", same)
            else:
                vessel = Vessel(
                    code=code,
                    name=f"Cask {code}",
                    kind=VesselKind.CASK,
                    stage=Stage.MATURING,
                    capacity_ul=nominal_ul,
                )
                fresh[code.casefold()] = _cask(vessel, values, nominal_ul)
        self.added[name.replace("_", " ")] = keeping.add_casks(fresh.values())

    def _passed_over(self, file: str, line: Line, what: str, same: Mapping[str, bool]) -> None:
        """Counts a row that says what the site says; any other figure is a bad row."""
        other = [column for column, is_same in same.items() if not is_same]
        for column in other:
            typed = line.cells.get(column, "blank")
            self.bad.append(
                BadRow(
                    file,
                    line.row,
                    column,
                    f"{what} is on this site with another {self.source.called(file, column)} than {typed}; "
                    "change it on the plant's own page.",
                )
            )
        if not other:
            self.source.note_there(file, line.row)
            self.passed_over += 1


def _plant(codes: Iterable[object]) -> Plant:
    """The plant as it stands, the casks among these codes read together."""
    plant = Plant()
    plant.look_up(map(str, codes))
    return plant


def _cask(vessel: Vessel, values: Values, nominal_ul: int) -> Cask:
    fill, filled_at = values.get("fill", 1), values.get("filled_at")
    return Cask(
        vessel=vessel,
        kind=str(values["kind"]),
        fill_number=fill if isinstance(fill, int) else 1,
        nominal_ul=nominal_ul,
        warehouse=str(values.get("warehouse", "")),
        tare_g=_whole(values.get("tare_kg"), GRAMS),
        filled_at=filled_at if isinstance(filled_at, datetime) else None,
        head_year=year if isinstance(year := values.get("head_year"), int) else None,
        **{
            name: str(values.get(name, ""))
            for name in ("row", "tier", "wood", "owner", "head_number", "head_distillery")
        },
    )


def _whole(value: object, per_unit: int) -> int | None:
    """A decimal figure in whole parts of its unit, half to even."""
    return round(value * per_unit) if isinstance(value, Decimal) else None


def _one_for_each_dip(points: list[CalibrationPoint]) -> list[CalibrationPoint]:
    return list({(point.vessel_id, point.dip_um): point for point in points}.values())


def _on_site(name: str) -> bool:
    model = {"vessels": Vessel, "calibration": CalibrationPoint, "instruments": Instrument}[name]
    return bool(model._default_manager.exists())
