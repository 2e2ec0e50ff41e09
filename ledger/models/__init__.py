"""The tables of the ledger: accounts, movements with their legs, measurements, and what is kept added up.

Facts (Account, Movement, Leg, Measurement, Figure, Duty) are added and never changed; triggers on both engines see to
it. Sums (Balance, RunningBalance, AccountMonth, StageMonth) are kept by triggers as legs arrive, so that
no page adds history up again, and `verify_ledger` proves them from the legs.

Pure alcohol in microlitres of ethanol at 20 °C, mass in grams, both whole and signed: positive into an
account. The legs of a movement sum to nothing in both.
"""

from __future__ import annotations

from ledger.models.accounts import HOLDING, Account, AccountKind
from ledger.models.details import Duty, Figure
from ledger.models.measurements import Gauge, MeasuredFlow, Measurement
from ledger.models.movements import (
    Entry,
    Head,
    Leg,
    Movement,
    MovementKind,
    StandingLegs,
    StandingMovements,
    StandingQuerySet,
)
from ledger.models.sums import AccountMonth, Balance, Hand, RunningBalance, StageMonth

__all__ = [
    "HOLDING",
    "Account",
    "AccountKind",
    "AccountMonth",
    "Balance",
    "Duty",
    "Entry",
    "Figure",
    "Gauge",
    "Hand",
    "Head",
    "Leg",
    "MeasuredFlow",
    "Measurement",
    "Movement",
    "MovementKind",
    "RunningBalance",
    "StageMonth",
    "StandingLegs",
    "StandingMovements",
    "StandingQuerySet",
]
