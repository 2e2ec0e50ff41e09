"""Whisky: old casks disgorged, vatted, reduced in stages with a rest, chill filtered and bottled, thrice a year."""

from datetime import datetime, timedelta
from typing import Any

import numpy as np

from tests.simulator.casks import MaturingCask
from tests.simulator.liquid import Liquid
from tests.simulator.month import Month, Row
from tests.simulator.spirit_store import reduce
from tests.simulator.third_still import ThirdStill
from tests.simulator.vessels import Vessel
from tests.simulator.year.calendar import START, hour_of

from .casks_emptied import WEIGHED, held_by_now, old_casks, weighing
from .used import Lot, uses_of


def _gauge(prefix: str) -> tuple[str, ...]:
    return tuple(f"{prefix}_{what}" for what in ("dip_mm", "celsius", "hydrometer_percent"))


COLUMNS = {
    "disgorgings": ["disgorging", "at", "vat", *_gauge("vat_before"), "cask", *WEIGHED, *_gauge("vat_after")],
    "vattings": [
        *("vatting", "at", "vat", *_gauge("vat_before"), "first_vessel", *_gauge("first_before")),
        *("second_vessel", *_gauge("second_before"), *_gauge("first_after"), *_gauge("second_after")),
        *_gauge("vat_after"),
    ],
    "reductions": ["goes_on_from", "next_target_percent", "rest_days"],
    "standings": [
        *("standing", "vessel", "begun_at", "cover", *_gauge("before"), "ended_at", *_gauge("after")),
    ],
    "filtrations": [
        *("filtration", "at", "vat", "into", "way", "filter_celsius", "filter_bar", "sheet_lot", "sheets_used"),
        *("litres_in", "litres_out", "kept_litres", "kept_percent", *_gauge("vat_before"), *_gauge("into_before")),
        *(*_gauge("vat_after"), *_gauge("into_after")),
    ],
    "samples": [
        *("sample", "drawn_at", "vessel", "millilitres", "percent", "purpose", "recipient"),
        *("ended_at", "became", "sent_to", "witness"),
    ],
}
FIRST_MORNINGS = (datetime(2026, 5, 5, 9), datetime(2026, 9, 7, 9), datetime(2027, 2, 8, 9))
CASKS_AT_ONCE, DISGORGINGS, MARRYING, BOTTLING = 4, ("DV1", "DV2"), "MV", "WV"
BETWEEN, LABEL = 54.0, 43.0
REST_DAYS = 4
# Of what is moved: kept by wood, by pumps and hoses, given off in a rest, kept by the filter besides what is caught.
WOOD, HOSES, A_REST, SHEETS = (0.010, 0.001), (0.003, 0.0004), (0.0003, 0.0001), (0.003, 0.0004)


class Whisky:
    """From the casks to the bottles in about twelve days."""

    def __init__(self, year: Month, rng: np.random.Generator) -> None:
        self.year, self.rng = year, rng
        self.casks = iter(old_casks(year.plant.maturing))

    def plan(self) -> None:
        for morning in FIRST_MORNINGS:
            begins = hour_of(morning)
            for day, vat in enumerate(DISGORGINGS):
                self.year.at(begins + 24.0 * day + self._minutes(), self.disgorge, vat)
            self.year.at(begins + 48.0 + self._minutes(), self.vat_together)
            self.year.at(begins + 53.0 + self._minutes(), self.draw_sample, MARRYING, "strength", "Still house")
            self.year.at(begins + 72.0 + self._minutes(), self.reduce_first)
            self.year.at(begins + 240.0 + self._minutes(), self.filter)
            self.year.at(begins + 262.0 + self._minutes(), self.draw_sample, BOTTLING, "reference", "Sample room")
            self.year.at(begins + 264.0 + self._minutes(), self.bottle)

    def _minutes(self) -> float:
        return float(self.rng.uniform(0.0, 0.8))

    def _lost(self, moved: Liquid, usual: tuple[float, float], cause: str) -> Liquid:
        lost = moved.share(max(0.00002, float(self.rng.normal(*usual))))
        self.year.leave(cause, lost)
        return lost

    def disgorge(self, code: str) -> None:
        year, vat = self.year, self.year.vessel(code)
        record, n = year.number("DG")
        head: Row = {"disgorging": record, "at": year.stamp(year.now), "vat": code}
        chosen: list[MaturingCask] = [next(self.casks) for _ in range(CASKS_AT_ONCE)]
        held = [held_by_now(year, cask, self.rng) for cask in chosen]
        lines = [
            {"cask": cask.number, **weighing(year.tools, now, cask.tare_kg, cask.written_tare_kg)}
            for cask, now in zip(chosen, held, strict=True)
        ]
        year.gauge(vat, "disgorgings", head, "vat_before", record, "disgorging", n)
        together = sum(held, Liquid())
        year.come("casks disgorged", together)
        vat.contents = vat.contents + (together - self._lost(together, WOOD, "disgorging"))
        year.gauge(vat, "disgorgings", head, "vat_after", record, "disgorging", n)
        year.rows["disgorgings"] += [{**head, **line} for line in lines]
        year.done("disgorging", n, record, casks=[cask.number for cask in chosen], lpa=together.alcohol)

    def vat_together(self) -> None:
        year, into = self.year, self.year.vessel(MARRYING)
        record, n = year.number("VT")
        row: Row = {"vatting": record, "at": year.stamp(year.now), "vat": into.code}
        year.rows["vattings"].append(row)
        year.gauge(into, "vattings", row, "vat_before", record, "vatting", n)
        came = Liquid()
        for name, code in zip(("first", "second"), DISGORGINGS, strict=True):
            vat = year.vessel(code)
            row[f"{name}_vessel"] = code
            year.gauge(vat, "vattings", row, f"{name}_before", record, "vatting", n)
            came, vat.contents = came + vat.contents, Liquid()
            year.gauge(vat, "vattings", row, f"{name}_after", record, "vatting", n)
        into.contents = into.contents + (came - self._lost(came, HOSES, "vatting"))
        year.gauge(into, "vattings", row, "vat_after", record, "vatting", n)
        year.done("vatting", n, record, moved=came.alcohol)

    def reduce_first(self) -> None:
        """To the strength between, then the rest."""
        year = self.year
        reduce(year, year.vessel(MARRYING), BETWEEN)
        first = year.rows["reductions"][-1]
        first |= {"next_target_percent": LABEL, "rest_days": REST_DAYS}
        year.after(2.0, self.stand, first["reduction"])

    def stand(self, reduced: str) -> None:
        year, vat = self.year, self.year.vessel(MARRYING)
        record, n = year.number("SD")
        row: Row = {"standing": record, "vessel": vat.code, "begun_at": year.stamp(year.now), "cover": "closed"}
        year.rows["standings"].append(row)
        year.gauge(vat, "standings", row, "before", record, "standing", n)
        year.after(24.0 * REST_DAYS - 3.0, self.end_rest, row, n, reduced)

    def end_rest(self, row: Row, n: int, reduced: str) -> None:
        year, vat = self.year, self.year.vessel(MARRYING)
        row["ended_at"] = year.stamp(year.now)
        vat.contents = vat.contents - self._lost(vat.contents, A_REST, "standing")
        year.gauge(vat, "standings", row, "after", row["standing"], "standing", n)
        year.done("standing", n, row["standing"], lpa=vat.contents.alcohol)
        year.after(2.0, self.reduce_again, reduced)

    def reduce_again(self, reduced: str) -> None:
        reduce(self.year, self.year.vessel(MARRYING), LABEL)
        self.year.rows["reductions"][-1]["goes_on_from"] = reduced

    def filter(self) -> None:
        year, vat, into = self.year, self.year.vessel(MARRYING), self.year.vessel(BOTTLING)
        record, n = year.number("FI")
        row: Row = {"filtration": record, "at": year.stamp(year.now), "vat": vat.code, "into": into.code}
        year.rows["filtrations"].append(row)
        year.gauge(vat, "filtrations", row, "vat_before", record, "filtration", n)
        year.gauge(into, "filtrations", row, "into_before", record, "filtration", n)
        went_in, vat.contents = vat.contents, Liquid()
        caught = went_in.share(float(self.rng.uniform(2.0, 4.0)) / went_in.litres())
        year.leave("filtration", caught)
        came_out = went_in - caught - self._lost(went_in, SHEETS, "filtration")
        into.contents = into.contents + came_out
        year.gauge(vat, "filtrations", row, "vat_after", record, "filtration", n)
        year.gauge(into, "filtrations", row, "into_after", record, "filtration", n)
        sheets = Lot("filter sheet", "filter sheets, fine", f"FS{row['at'][2:4]}{row['at'][5:7]}")
        uses_of(year).note(sheets, row["at"], 20)
        row |= {
            "way": "chill",
            "filter_celsius": round(float(self.rng.normal(0.5, 0.5)), 1),
            "filter_bar": round(float(self.rng.uniform(0.8, 1.6)), 1),
            "sheet_lot": sheets.code,
            "sheets_used": 20,
            "litres_in": round(went_in.litres(), 1),
            "litres_out": round(came_out.litres(), 1),
            "kept_litres": round(caught.litres(), 1),
            "kept_percent": round(caught.percent, 1),
        }
        year.done("filtration", n, record, moved=went_in.alcohol, kept=caught.alcohol)

    def bottle(self) -> None:
        ThirdStill(self.year).bottle(self.year.vessel(BOTTLING), "whisky")

    def draw_sample(self, code: str, purpose: str, recipient: str) -> None:
        """A bottle of 200 or 700 mL; what was tested is used up, a reference is kept."""
        year, vat = self.year, self.year.vessel(code)
        record, _ = year.number("SA")
        millilitres = 200 if purpose == "strength" else 700
        drawn = vat.contents.share(millilitres / 1000.0 / vat.contents.litres())
        row = sample(record, year.now, code, millilitres, purpose, recipient)
        row["percent"] = round(drawn.percent + float(self.rng.normal(0.0, 0.03)), 2)
        if purpose == "strength":
            row |= {"ended_at": _stamp(year.now + 20.0), "became": "used up in tests"}
        _take(vat, drawn)
        year.leave("samples", drawn)
        year.rows["samples"].append(row)


def _take(vat: Vessel, drawn: Liquid) -> None:
    vat.contents = vat.contents - drawn


def sample(record: str, hours: float, vessel: str, millilitres: int, purpose: str, recipient: str) -> dict[str, Any]:
    """A row of the sample book, its end still to come."""
    return {
        "sample": record,
        "drawn_at": _stamp(hours),
        "vessel": vessel,
        "millilitres": millilitres,
        "purpose": purpose,
        "recipient": recipient,
    }


def _stamp(hours: float) -> str:
    return (START + timedelta(minutes=round(hours * 60.0))).strftime("%Y-%m-%dT%H:%M")
