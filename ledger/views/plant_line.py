"""The line of vessels: each with its level, what it holds and how old that figure is, stage by stage."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.utils.safestring import SafeString

from distillery import figures
from distillery.charts.vessel import vessel_drawing
from distillery.clock.reading import site_day
from distillery.plant.models import Kind, Stage
from ledger.models import Account
from ledger.statements.at_work import EMPTY, AtWork, contents_of
from ledger.statements.balances import Holding
from ledger.statements.cleaned import Cleaning
from ledger.views.ways import account_href, record_href

# An older figure says its day.
FRESH: Final = timedelta(hours=24)
NOT_GAUGED: Final = "Not gauged"
NOT_YET_GAUGED: Final = "Not yet gauged"


@dataclass(frozen=True, slots=True)
class VesselOnLine:
    """One vessel: its drawing and the figures beside it, as they are written."""

    account: Account
    code: str
    name: str
    stage: str
    drawing: SafeString
    pure_ul: int | None
    bulk: str
    litres: str
    strength: str
    held: AtWork | None
    on: AtWork | None
    state: str
    hours: int | None
    age: str
    gauged_at: datetime | None
    cleaning: Cleaning | None

    @property
    def href(self) -> str:
        """The account of the vessel."""
        return account_href(self.account)

    @property
    def record(self) -> str:
        """The record of the work in it, where there is one."""
        return record_href(self.on.record_kind, self.on.record_number) if self.on is not None else ""

    @property
    def cleaning_record(self) -> str:
        """The last record of its cleaning, where there is one."""
        return record_href(self.cleaning.record_kind, self.cleaning.record_number) if self.cleaning is not None else ""

    @property
    def is_empty(self) -> bool:
        """True where nothing is in it."""
        return self.bulk == EMPTY

    @property
    def is_gauged(self) -> bool:
        """True where its figures are those of a gauge; a still has none, and what goes on says so itself."""
        return self.held is None and self.age != NOT_GAUGED


@dataclass(frozen=True, slots=True)
class StageOnLine:
    """The vessels of one stage, and the pure alcohol in all of it, microlitres, casks and bottles included."""

    label: str
    vessels: tuple[VesselOnLine, ...]
    pure_ul: int
    elsewhere: SafeString | None = None
    elsewhere_name: str = ""
    elsewhere_page: str = ""


def vessels_on_line(
    holdings: Iterable[Holding],
    working: Mapping[int, AtWork],
    on: Mapping[str, AtWork],
    clean: Mapping[str, Cleaning],
    now: datetime,
) -> list[VesselOnLine]:
    """Vessels in the order of their holdings. `working` is what `at_work` tells of the same moment, `on` what goes on
    in them and `clean` how they stand to their cleaning, by their codes.
    """
    return [_vessel(holding, working, on, clean, now) for holding in holdings]


def stages_on_line(vessels: list[VesselOnLine], totals: Mapping[str, int]) -> list[StageOnLine]:
    """The stages along which the alcohol goes; those that have neither vessels nor alcohol are left out."""
    found = []
    for stage in Stage:
        own = tuple(one for one in vessels if one.account.stage == stage)
        total = totals.get(stage, 0)
        if not own and not total:
            continue
        if own:
            found.append(StageOnLine(stage.label, own, total))
        else:
            kind, name, page = ELSEWHERE.get(stage, ("cask", stage.label, "accounts"))
            found.append(StageOnLine(stage.label, (), total, vessel_drawing(kind, 1.0), name, page))
    return found


ELSEWHERE: Final = {
    Stage.MATURING: ("cask", "Casks", "warehouse"),
    Stage.BOTTLED: ("bottle", "Bottles", "bottling"),
}


def _vessel(
    holding: Holding,
    working: Mapping[int, AtWork],
    on: Mapping[str, AtWork],
    clean: Mapping[str, Cleaning],
    now: datetime,
) -> VesselOnLine:
    account, gauge = holding.account, holding.last_gauge
    vessel = account.vessel
    assert vessel is not None
    contents = contents_of(holding, working)
    held = contents.held
    going_on = held or on.get(vessel.code)
    litres = holding.litres20 if held is None else held.litres
    gauged_at = gauge.happened_at if gauge is not None else None
    never = NOT_GAUGED if vessel.kind == Kind.STILL else NOT_YET_GAUGED
    return VesselOnLine(
        account=account,
        code=vessel.code,
        name=vessel.name,
        stage=Stage(account.stage).label,
        drawing=vessel_drawing(vessel.kind, _share(litres, vessel.capacity_litres, holding.pure_ul)),
        pure_ul=None if held is not None else holding.pure_ul,
        bulk=contents.bulk,
        litres=contents.bulk if litres is None else figures.litres(litres, 0),
        strength=contents.strength,
        held=held,
        on=going_on,
        state=going_on.sentence if going_on is not None else "",
        hours=_hours(going_on, now) if going_on is not None else None,
        age=never if gauged_at is None else _age(gauged_at, now),
        gauged_at=gauged_at,
        cleaning=clean.get(vessel.code) if going_on is None else None,
    )


def _share(litres: float | None, capacity: float | None, pure_ul: int) -> float | None:
    """How full it is: by its litres and size, or full where it only can be said that something is in it."""
    if litres is not None and capacity:
        return litres / capacity
    return 1.0 if litres or pure_ul > 0 else None


def _hours(held: AtWork, now: datetime) -> int | None:
    """Whole hours that work has gone on, where its beginning is known."""
    return None if held.since is None else max((now - held.since) // timedelta(hours=1), 0)


def _age(at: datetime, now: datetime) -> str:
    if timedelta(0) <= now - at < FRESH:
        return figures.clock(at)
    return figures.day(at, year=site_day(at).year != site_day(now).year)


def oldest(vessels: Iterable[VesselOnLine]) -> VesselOnLine | None:
    """The vessel whose figure is the oldest of those that hold something."""
    gauged = [one for one in vessels if one.gauged_at is not None and one.pure_ul]
    return min(gauged, key=lambda one: one.gauged_at or datetime.max, default=None)
