"""A receiver that is changed while a run is on: it is gauged, and another one is gauged and takes what runs off.

The remnant account is taken of the next receiver before anything is collected into it, as it was of the first (HMRC
Spirits Production Manual SPIR4130). What the run gave is then what both took: each from its gauge before to its gauge
after. The sheet has room for one change of each receiver in a run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from batches.sheets import fields
from batches.sheets.sheet import Event, Field, Gauge, Moment, Phase, Posting, Role, Section, ToldBy
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Held, from_gauges
from batches.steps.shared.figures import Gauge as OfBlock
from distillery.plant.models import Purpose, Stage
from ledger.posting.accounts import gauging


@dataclass(frozen=True, slots=True, kw_only=True)
class Receiver:
    """A vessel that takes what runs off a still: the fields that name it and the still, the gauges around its run.

    `named` is what it is called in a sentence ('spirit receiver'). `after` is a gauge with `then=self.next`.
    """

    field: str
    named: str
    before: str
    after: str
    still: str
    vessel: Field
    usual_percent: tuple[str, str]

    @property
    def next(self) -> str:
        """The field of the vessel that takes its place."""
        return f"next_{self.field}"

    @property
    def at(self) -> str:
        """The field of the time at which it was changed."""
        return f"{self.field}_changed_at"

    @property
    def filled(self) -> str:
        """The gauge of it when it was changed."""
        return f"{self.field}_filled"

    @property
    def changed(self) -> str:
        """The moment at which it is changed."""
        return f"{self.field}_changed"

    def moment(self) -> Moment:
        """The moment of its change, which may never come."""
        return Moment(
            name=self.changed,
            label=f"Change of {self.named}",
            when=self.at,
            phase=Phase.RUN_OFF,
            post=self._post,
            optional=True,
        )

    def _post(self, written: Completed) -> Posting:
        """What the first took from the still until then, and what the next one held before it took anything."""
        return Posting(
            (
                written.taken(self.filled, written.account(self.still)),
                written.taken(f"{self.next}_before", gauging(written.vessel(self.next))),
            )
        )

    def section(self) -> Section:
        """What is written when it is changed."""
        label = f"{self.named[:1].upper()}{self.named[1:]}"
        return Section(
            heading=f"Change of {self.named}",
            moment=self.changed,
            items=(
                fields.when(self.at, f"{label} changed at", not_before="charged_at"),
                Gauge(
                    prefix=self.filled,
                    label=f"{label} when changed",
                    vessel=self.field,
                    role=Role.AFTER,
                    taken="when it was changed",
                    usual_percent=self.usual_percent,
                ),
                fields.vessel(
                    self.next,
                    f"Next {self.named}",
                    *self.vessel.vessel_kinds,
                    # Whatever it is kept for: what takes the run when the first is full is written down as it was.
                    stages=self.vessel.stages,
                ),
                Gauge(
                    prefix=f"{self.next}_before",
                    label=f"Next {self.named} before",
                    vessel=self.next,
                    role=Role.BEFORE,
                    taken="remnant before it is taken",
                    usual_percent=self.usual_percent,
                ),
            ),
        )

    def event(self) -> Event:
        """Its button while the run is on."""
        return Event(
            name=self.changed,
            label=f"Change {self.named}",
            said="Receiver changed",
            when=self.at,
            moment=self.changed,
            into=self.next,
            instead_of=self.field,
        )

    def gauges(self, written: Completed) -> list[OfBlock]:
        """The gauges between which it took what ran off, before and after by turns, those of its change among them."""
        names = [self.before, self.after]
        if written.has(self.at):
            names = [self.before, self.filled, f"{self.next}_before", self.after]
        return [(written, name) for name in names]

    def average_among(self, found: Compared, written: Completed, name: str, *, like: str) -> None:
        """The figure of how strong what it took is on average, beside runs alike."""
        found.with_kind(
            name,
            lambda: from_gauges(average_percent, *self.gauges(written)),
            like=like,
            field=f"{self.after}_hydrometer_percent",
            unit="% vol",
        )

    def share_among(
        self, found: Compared, written: Completed, name: str, charged: Sequence[OfBlock], *, like: str
    ) -> None:
        """The figure of how much of the charge it took, percent of its pure alcohol, beside runs alike. `charged` are
        the gauges of what the still was charged from, before and after by turns."""
        own = self.gauges(written)

        def share(*held: Held) -> float:
            return 100.0 * gained_lpa(*held[: len(own)]) / -gained_lpa(*held[len(own) :])

        found.with_kind(
            name,
            lambda: from_gauges(share, *own, *charged),
            like=like,
            field=f"{self.after}_dip_mm",
            unit="%",
        )


def receiver(
    field: str,
    label: str,
    *,
    gauged: str,
    stage: Stage,
    usual_percent: tuple[str, str],
    purpose: Purpose | None = None,
    named: str = "",
    still: str = "still",
    told_by: ToldBy | None = None,
) -> Receiver:
    """A receiver as steps declare one: `label` over its box, `gauged` the beginning of its gauges' names, `named` what
    it is called in a sentence, where not as its label. One that is kept for a purpose may be left blank where it is the
    only one."""
    more = {} if told_by is None else {"told_by": told_by}
    return Receiver(
        field=field,
        named=named or label.lower(),
        before=f"{gauged}_before",
        after=f"{gauged}_after",
        still=still,
        vessel=fields.vessel(
            field,
            label,
            *fields.DIPPED,
            stages=(stage.value,),
            purposes=(purpose.value,) if purpose else (),
            assumed=purpose is not None,
            **more,
        ),
        usual_percent=usual_percent,
    )


def gained_lpa(*held: Held) -> float:
    """Litres of pure alcohol that came between gauges before and after by turns."""
    return sum(after.lpa - before.lpa for before, after in _by_turns(held))


def average_percent(*held: Held) -> float:
    """Average strength of what came between gauges before and after by turns: alcohol over bulk, never the mean of
    readings."""
    return 100.0 * gained_lpa(*held) / sum(after.litres - before.litres for before, after in _by_turns(held))


def _by_turns(held: tuple[Held, ...]) -> list[tuple[Held, Held]]:
    return list(zip(held[::2], held[1::2], strict=True))
