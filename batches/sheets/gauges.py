"""Readings that together say what one vessel holds, and the fields they add to a sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

from batches.sheets import fields
from batches.sheets.declared import Field, Role
from ledger.posting.gauging import Method

# How a gauge finds what a vessel holds.
By = Method
# What wash is gauged by beside its dip: the parts of such a gauge, and the fields that hold them on whatever sheet.
ORIGINAL_GRAVITY, FINAL_GRAVITY = "original_gravity", "final_gravity"
GRAVITIES = (ORIGINAL_GRAVITY, FINAL_GRAVITY)
# The readings each kind of gauge is made of.
PARTS_BY: dict[str, tuple[str, ...]] = {
    By.SPIRIT_DIP: ("dip_mm", "celsius", "hydrometer_percent"),
    By.WASH_DIP: ("dip_mm", "celsius"),
    By.WEIGHT: ("tare_kg", "gross_kg", "celsius", "hydrometer_percent"),
    By.WEIGHT_AT_STRENGTH: ("tare_kg", "gross_kg", "percent"),
    By.VOLUME: ("litres", "celsius", "hydrometer_percent"),
}
BY_WEIGHT = (By.WEIGHT, By.WEIGHT_AT_STRENGTH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """Readings that together say what one vessel holds; its fields are made from the prefix.

    A dip and hydrometer: `X_dip_mm`, `X_celsius`, `X_hydrometer_percent`. A dip and gravities: `X_dip_mm`,
    `X_celsius`, with both gravities from this sheet or from the record in `gravities_of`. A weight: `tare_kg`,
    `gross_kg`, `celsius`, `hydrometer_percent`; with a strength already known at 20 °C: `tare_kg`,
    `gross_kg`, `percent`. `celsius_from` names the temperature where one was read for two dips. `present_gravity`
    names a field for the gravity of wash: a washback may then stand here too, and is gauged by dip and gravities.
    `taken` says beside its row when it is taken ('before charging'), where before or after does not say enough.

    `same_as` names another gauge of the same vessel that this one is where it is left blank: asked once, posted once,
    and referred to by both. Of another record where `same_of` names the field that says which. What is written is a
    gauge of its own. An `optional` one is taken where its vessel is written, and may be left out whole.

    `then` names the field of a vessel that may have taken the place of `vessel` by the time of this gauge; where one is
    written there, it is the one that is gauged.

    A weight with `or_litres` may be left blank for `litres`, which a meter measured or the cask's table says for its
    dip, at the temperature beside them.
    """

    prefix: str
    label: str
    vessel: str
    role: Role
    by: By = By.SPIRIT_DIP
    usual_percent: tuple[str, str] | None = None
    usual_celsius: tuple[str, str] = ("5", "30")
    celsius_from: str = ""
    gravities_of: str = ""
    present_gravity: str = ""
    taken: str = ""
    same_as: str = ""
    same_of: str = ""
    then: str = ""
    optional: bool = False
    or_litres: bool = False

    def name(self, part: str) -> str:
        """The column of one part: `spirit_after_dip_mm`, or `gross_kg` where there is no prefix."""
        return f"{self.prefix}_{part}" if self.prefix else part

    @property
    def celsius(self) -> str:
        """The column in which the temperature of this gauge stands."""
        return self.celsius_from or self.name("celsius")

    def following(self, is_written: Callable[[str], bool]) -> Gauge:
        """The same gauge, of the vessel that has taken the place of its own where one is written."""
        return replace(self, vessel=self.then, then="") if self.then and is_written(self.then) else self

    @property
    def when_taken(self) -> str:
        """What is said of it beside its vessel: 'before charging', or its role alone."""
        return self.taken or self.role.value

    @property
    def parts(self) -> tuple[str, ...]:
        """The readings it is made of, those of gravities left out, as they stand side by side."""
        return PARTS_BY[self.by]

    @property
    def parts_shown(self) -> tuple[str, ...]:
        """The same with the litres that may stand for a weight, last, so that weights are pasted as before."""
        return (*self.parts, "litres") if self.or_litres and self.by == By.WEIGHT else self.parts

    def measured_by(self, is_written: Callable[[str], bool]) -> Gauge:
        """The same gauge, by its litres where those are written in place of a weight."""
        return replace(self, by=By.VOLUME) if self.or_litres and is_written(self.name("litres")) else self

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields this gauge adds to the sheet."""
        return gauge_fields(self)


@cache
def gauge_fields(gauge: Gauge) -> tuple[Field, ...]:
    """The fields a gauge adds. Temperature and hydrometer may be left blank, but only where the dip reads nothing; all
    of them may where the gauge is another one too."""
    of_cask = gauge.by in (By.WEIGHT, By.VOLUME) and not gauge.optional
    strength = fields.percent(
        gauge.name("hydrometer_percent"),
        f"{gauge.label}: hydrometer reading",
        usual=gauge.usual_percent,
        required=of_cask,
        help="What the hydrometer showed at that temperature; the program corrects it.",
    )
    temperature = fields.celsius(
        gauge.name("celsius"),
        f"{gauge.label}: temperature",
        usual=gauge.usual_celsius,
        required=of_cask,
    )
    litres = fields.litres(
        gauge.name("litres"),
        "Litres by meter or dip",
        usual=("30", "700"),
        required=False,
        help="Instead of the weights: what a meter measured, or the cask's table says for its dip.",
    )
    if gauge.by == By.VOLUME:
        return litres, temperature, strength
    if gauge.by in BY_WEIGHT:
        needed = not (gauge.optional or gauge.or_litres)
        tare = fields.kilograms(gauge.name("tare_kg"), "Tare", usual=("20", "180"), required=needed)
        gross = fields.kilograms(gauge.name("gross_kg"), "Gross", usual=("40", "900"), required=needed)
        if gauge.by == By.WEIGHT:
            return (tare, gross, temperature, strength, *((litres,) if gauge.or_litres else ()))
        known = fields.percent(gauge.name("percent"), "Strength at 20 °C", usual=gauge.usual_percent, required=needed)
        return tare, gross, known
    dip = fields.number(
        gauge.name("dip_mm"),
        f"{gauge.label}: dip",
        "mm",
        decimals=0,
        high=fields.MOST_MILLIMETRES,
        required=not (gauge.same_as or gauge.optional),
    )
    if gauge.by == By.SPIRIT_DIP:
        return dip, temperature, strength
    return (dip,) if gauge.celsius_from else (dip, temperature)
