"""Vessels of the people's own, so that every sheet they write agrees with the books of a site that is there already.

Each vessel holds four litres a millimetre and is read at 20 °C, where what is in it has the strength given here. A run
takes 52.0 litres of pure alcohol into the still, gives 51.6 back to the receivers and leaves 0.05 in the lees: the rest
is the small loss that is usual.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

TANKS = tuple(f"PT{number}" for number in range(1, 9))
STILLS = (1, 2, 3)
DEEPEST_MM = 3000
LITRES_PER_MM = 4
FIRST_DIP_MM = {"PT": 1500, "PL": 2960, "PF": 1000, "PR": 40}
PERCENT = {"PT": "60.0", "PL": "25.0", "PF": "30.0", "PR": "70.0"}
LOW_WINES_MM, FEINTS_MM, CUT_MM, FEINTS_BACK_MM = 40, 10, 12, 15
# So many millimetres too low the spirit receiver is read now and then.
ODD_MM = 10
RUNS_OF_A_STILL = FIRST_DIP_MM["PL"] // LOW_WINES_MM - 1
RUN = timedelta(hours=1, minutes=50)
BETWEEN_RUNS = timedelta(hours=2)
TRANSFERS_A_MINUTE = 20
SPAN = timedelta(days=7)


@dataclass
class Plant:
    """How deep each vessel is just now, and how far each still and the transfers have come."""

    begins: datetime
    dips: dict[str, int] = field(default_factory=dict)
    runs: dict[int, int] = field(default_factory=lambda: dict.fromkeys(STILLS, 0))
    transfers: int = 0

    def __post_init__(self) -> None:
        self.dips = {code: FIRST_DIP_MM[code[:2]] for code in dipped()}

    def transfer(self, giver: str, taker: str, moved_mm: int) -> dict[str, str]:
        """The sheet of a transfer between two tanks."""
        self.transfers += 1
        at = self.begins + timedelta(minutes=1 + self.transfers // TRANSFERS_A_MINUTE)
        dips = self.dips
        return {
            "at": f"{at:%Y-%m-%d %H:%M}",
            "from_vessel": giver,
            "to_vessel": taker,
            **gauge("from_before", giver, dips[giver]),
            **gauge("to_before", taker, dips[taker]),
            **gauge("from_after", giver, dips[giver] - moved_mm),
            **gauge("to_after", taker, dips[taker] + moved_mm),
        }

    def spirit_run(self, still: int, *, odd: bool) -> dict[str, str]:
        """The sheet of the next run of a still, its spirit receiver read too low where it is odd."""
        wines, feints, spirit = (f"{kind}{still}" for kind in ("PL", "PF", "PR"))
        charged = self.begins + self.runs[still] * BETWEEN_RUNS
        dips = self.dips
        left = dips[feints] - FEINTS_MM
        return {
            "still": f"PS{still}",
            "charged_at": f"{charged:%Y-%m-%d %H:%M}",
            "low_wines_receiver": wines,
            "feints_receiver": feints,
            "spirit_receiver": spirit,
            **gauge("low_wines_before", wines, dips[wines]),
            **gauge("low_wines_after", wines, dips[wines] - LOW_WINES_MM),
            **gauge("feints_before", feints, dips[feints]),
            **gauge("feints_after", feints, left),
            **gauge("spirit_before", spirit, dips[spirit]),
            **gauge("feints_receiver_before", feints, left),
            "ended_at": f"{charged + RUN:%Y-%m-%d %H:%M}",
            **gauge("spirit_after", spirit, dips[spirit] + CUT_MM - (ODD_MM if odd else 0)),
            **gauge("feints_receiver_after", feints, left + FEINTS_BACK_MM),
            "spent_lees_litres": "100",
            "spent_lees_percent": "0.05",
        }

    def has_run(self, still: int) -> None:
        """A run was acknowledged."""
        self.runs[still] += 1
        self.dips[f"PL{still}"] -= LOW_WINES_MM
        self.dips[f"PF{still}"] += FEINTS_BACK_MM - FEINTS_MM
        self.dips[f"PR{still}"] += CUT_MM


def dipped() -> tuple[str, ...]:
    """The vessels that are gauged."""
    return (*TANKS, *(f"{kind}{still}" for still in STILLS for kind in ("PL", "PF", "PR")))


def gauge(prefix: str, code: str, dip_mm: int) -> dict[str, str]:
    readings = {f"{prefix}_dip_mm": str(dip_mm), f"{prefix}_celsius": "20.0"}
    return readings | ({f"{prefix}_hydrometer_percent": PERCENT[code[:2]]} if dip_mm else {})


def build(person: Any) -> datetime:
    """Makes the vessels and gauges them into the books, a week before the newest movement or at the beginning of its
    period. Gives the local time from which runs and transfers may be written.
    """
    from django.utils import timezone

    from batches.records import recording
    from distillery.seals.writing import written_by
    from ledger.models import Movement
    from ledger.periods.calendar import Calendar

    last = Movement.objects.order_by("-happened_at").values_list("happened_at", flat=True)[0]
    calendar = Calendar.read()
    starts, _ = calendar.bounds(calendar.period_of(last))
    opened = timezone.localtime(max(last - SPAN, starts)).replace(second=0, microsecond=0) + timedelta(minutes=1)
    with written_by(person):
        _vessels()
    for code in dipped():
        recording.save(
            "opening_stock",
            None,
            {
                "vessel": code,
                "at": f"{opened:%Y-%m-%d %H:%M}",
                **gauge("gauge", code, FIRST_DIP_MM[code[:2]]),
            },
            person=person,
            sure=True,
        )
    return opened.replace(tzinfo=None) + timedelta(minutes=5)


def _vessels() -> None:
    from distillery.plant.models import MICRO, CalibrationPoint, Kind, Purpose, Stage, Vessel

    kinds = {
        "PT": (Kind.VAT, Stage.NEW_SPIRIT, ""),
        "PL": (Kind.RECEIVER, Stage.LOW_WINES, Purpose.LOW_WINES),
        "PF": (Kind.RECEIVER, Stage.LOW_WINES, Purpose.FEINTS),
        "PR": (Kind.RECEIVER, Stage.NEW_SPIRIT, Purpose.SPIRIT),
    }
    capacity = DEEPEST_MM * LITRES_PER_MM * MICRO
    make: Callable[..., Vessel] = Vessel.objects.create
    for still in STILLS:
        code = f"PS{still}"
        make(code=code, name=code, kind=Kind.STILL, stage=Stage.LOW_WINES, capacity_ul=capacity, order=900)
    for code in dipped():
        kind, stage, purpose = kinds[code[:2]]
        vessel = make(code=code, name=code, kind=kind, stage=stage, purpose=purpose, capacity_ul=capacity, order=900)
        for dip in (0, DEEPEST_MM):
            CalibrationPoint.objects.create(vessel=vessel, dip_um=dip * 1000, volume_ul=dip * LITRES_PER_MM * MICRO)
