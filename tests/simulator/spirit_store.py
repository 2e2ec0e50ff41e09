"""New spirit to vat and cask: transfers, vatting, reduction with weighed water, filling, regauging."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from .casks import Cask, fill_litres
from .instruments import alcohol_of_weight
from .liquid import Liquid, water_to_reduce
from .month import Mark, Month, Row
from .vessels import Vessel


def transfer(month: Month, source: Vessel, target: Vessel, amount: Liquid) -> None:
    """Pump liquid from one vessel to another; a little is lost on the way."""
    record, n = month.number("TR")
    row: Row = {
        "transfer": record,
        "at": month.stamp(month.now),
        "from_vessel": source.code,
        "to_vessel": target.code,
    }
    month.rows["transfers"].append(row)
    month.gauge(source, "transfers", row, "from_before", record, "transfer", n)
    month.gauge(target, "transfers", row, "to_before", record, "transfer", n)
    usual = month.plant.habits.transfer_share
    lost = amount.share(max(0.00005, month.rng.normal(usual, 0.25 * usual)))
    source.contents = source.contents - amount
    target.contents = target.contents + (amount - lost)
    month.leave("transfer", lost)
    month.gauge(source, "transfers", row, "from_after", record, "transfer", n)
    month.gauge(target, "transfers", row, "to_after", record, "transfer", n)
    month.hold(month.now + 0.2, source.code, target.code)
    month.done(
        "transfer",
        n,
        record,
        moved=amount.alcohol,
        loss=lost.alcohol,
        a=source.code,
        b=target.code,
        at=row["at"],
    )


def reduce(month: Month, vessel: Vessel, percent: float) -> None:
    """Add the weighed water that brings a vessel to this strength; the strength comes out a shade off."""
    record, n = month.number("RE")
    row: Row = {
        "reduction": record,
        "at": month.stamp(month.now),
        "vessel": vessel.code,
        "target_percent": percent,
    }
    month.rows["reductions"].append(row)
    month.gauge(vessel, "reductions", row, "before", record, "reduction", n)
    water = Liquid(0.0, water_to_reduce(vessel.contents, percent) * (1.0 + month.rng.normal(0.0, 0.002)))
    vessel.contents = vessel.contents + water
    month.come("water", water)
    row["water_kg"] = month.tools.weight(water.mass)
    month.gauge(vessel, "reductions", row, "after", record, "reduction", n)
    month.hold(month.now + 0.2, vessel.code)
    month.done(
        "reduction",
        n,
        record,
        water_kg=water.mass,
        lpa=vessel.contents.alcohol,
        percent=vessel.contents.percent,
    )


class SpiritStore:
    """Receiver to vat, vat to vat, vat to cask."""

    def __init__(self, month: Month) -> None:
        self.month = month
        self.habits = month.plant.habits
        self.vats = [month.vessel(code) for code in month.plant.vats]
        self.in_turn = 0
        self.casks = iter(month.plant.casks)
        self.filling: set[str] = set()
        self.not_regauged = list(month.plant.maturing)

    def plan(self) -> None:
        hours = self.month.hours / self.habits.months
        for number in range(self.habits.months):
            self._plan_month(number * hours, hours)

    def _plan_month(self, begins: float, hours: float) -> None:
        month, rng = self.month, self.month.rng
        month.at(begins + rng.uniform(0.35, 0.8) * hours, self.prepare_fill, self.vats[0])
        if len(self.vats) > 1 and self.habits.vatting:
            month.at(begins + rng.uniform(0.3, 0.9) * hours, self.vat_together)
        if self.habits.regauges:
            day = int(rng.integers(1, int(hours // 24) - 1))
            month.at(24.0 * (begins // 24 + day) + rng.uniform(3.0, 6.0), self.regauge)

    @property
    def reserve_alcohol(self) -> float:
        """What a filling leaves in the vat for the third still."""
        return 1.6 * self.habits.third_charge if self.habits.third_hours else 0.0

    def send_spirit(self) -> None:
        """Empty the spirit receiver into a vat that has room, first emptying vats into casks where none has."""
        month = self.month
        receiver = month.vessel(month.plant.spirit)
        if month.must_wait((receiver.code,), self.send_spirit):
            return
        amount = receiver.contents
        if self.habits.receiver_heel_litres and not amount.is_empty:
            amount = amount.share(max(0.0, 1.0 - self.habits.receiver_heel_litres / amount.litres()))
        if amount.alcohol < 0.5 * self.habits.charge_alcohol * self.habits.cut_share:
            return
        # A vat is brought down to filling strength before it is drawn, so room for the water is kept.
        for step in range(len(self.vats)):
            vat = self.vats[(self.in_turn + step) % len(self.vats)]
            if vat.code not in self.filling and vat.room_for(amount.litres() + 0.13 * vat.contents.litres()):
                if month.must_wait((vat.code,), self.send_spirit):
                    return
                self.in_turn = (self.in_turn + step) % len(self.vats)
                transfer(month, receiver, vat, amount)
                if not vat.room_for(1.05 * amount.litres() + 0.13 * vat.contents.litres()):
                    month.after(month.rng.uniform(0.4, 8.0), self.prepare_fill, vat)
                return
        for vat in self.vats:
            self.prepare_fill(vat)
        month.after(1.0, self.send_spirit)

    def vat_together(self) -> None:
        """Move part of the fuller vat to the other."""
        month = self.month
        fuller, other = sorted(self.vats, key=lambda vat: -vat.contents.alcohol)[:2]
        if self.filling or month.must_wait((fuller.code, other.code), self.vat_together):
            return
        amount = fuller.contents.share(month.rng.uniform(0.25, 0.6)) if fuller.contents.alcohol else Liquid()
        if amount.alcohol > 50.0 and other.room_for(1.2 * amount.litres()):
            transfer(month, fuller, other, amount)

    def prepare_fill(self, vat: Vessel) -> None:
        """Reduce a vat to filling strength where the site does so, then fill casks from it."""
        month = self.month
        enough = self.reserve_alcohol + 400.0
        if vat.code in self.filling or vat.contents.alcohol < enough or month.now > month.hours - 4.0:
            return
        if month.must_wait((vat.code,), self.prepare_fill, vat):
            return
        self.filling.add(vat.code)
        self.in_turn = (self.in_turn + 1) % len(self.vats)
        percent = self.habits.fill_percent
        if percent is not None and vat.contents.percent > percent + 0.25:
            reduce(month, vat, percent)
        month.hold(month.now + 1.2, vat.code)
        month.after(month.rng.uniform(0.4, 0.9), self.fill, vat)

    def fill(self, vat: Vessel) -> None:
        month, tools, rng = self.month, self.month.tools, self.month.rng
        self.filling.discard(vat.code)
        strength = vat.contents.percent
        available = 0.99 * vat.contents.alcohol - self.reserve_alcohol
        chosen: list[Cask] = []
        while available > 505.0 * strength / 100.0 and (cask := next(self.casks, None)) is not None:
            cask.contents = Liquid.of_litres(fill_litres(rng, cask.nominal_litres), strength)
            chosen.append(cask)
            available -= cask.contents.alcohol
        if not chosen:
            return
        before = tools.gauge(vat)
        record, n = month.number("CF")
        drawn = sum((cask.contents for cask in chosen), Liquid())
        usual = self.habits.filling_share
        lost = drawn.share(max(0.00005, rng.normal(usual, 0.2 * usual)))
        vat.contents = vat.contents - drawn - lost
        month.leave("casks", drawn)
        month.leave("filling", lost)
        rows = [self._fill_row(record, n, vat, cask) for cask in chosen]
        month.rows["cask_fills"].extend(rows)
        month.write_gauge(before, "cask_fills", rows, "vat_before", record, "cask_fill", n)
        month.write_gauge(tools.gauge(vat), "cask_fills", rows, "vat_after", record, "cask_fill", n)
        month.hold(month.now + 1.0, vat.code)
        month.done("cask_fill", n, record, casks=drawn.alcohol, left=vat.contents.alcohol)

    def _fill_row(self, record: str, n: int, vat: Vessel, cask: Cask) -> Row:
        month, tools = self.month, self.month.tools
        celsius = tools.temperature(vat.celsius)
        month.filled[cask.number] = cask.contents
        row: Row = {
            "fill": record,
            "at": month.stamp(month.now),
            "vat": vat.code,
            "cask": cask.number,
            "cask_kind": cask.kind,
            "fill_number": cask.fill_number,
            "nominal_litres": cask.nominal_litres,
            "tare_kg": tools.weight(cask.tare_kg),
            "gross_kg": tools.weight(cask.gross_kg(celsius)),
            "celsius": tools.celsius(celsius),
            "hydrometer_percent": tools.hydrometer(cask.contents.percent, celsius),
            "warehouse": cask.warehouse,
        }
        _mark_cask(month, "cask_fills", row, record, "cask_fill", n, slips=("gross_kg", "tare_kg"))
        return row

    def regauge(self) -> None:
        """Weigh and prove some maturing casks again, one every quarter of an hour or so, none of them twice."""
        month, rng, tools = self.month, self.month.rng, self.month.tools
        stock = self.not_regauged
        order = rng.choice(len(stock), size=min(self.habits.regauges, len(stock)), replace=False)
        drawn = sorted(int(k) for k in order)
        chosen, taken = [stock[i] for i in drawn], set(drawn)
        self.not_regauged = [cask for i, cask in enumerate(stock) if i not in taken]
        leaking = month.leaking_cask if not month.rows["regauges"] else None
        hours = month.now
        for place, cask in enumerate(chosen):
            years = (month.start - datetime.fromisoformat(cask.filled_at)).days / 365.25
            alcohol_share = max(0.008, rng.normal(0.019, 0.0022))
            leaked = leaking[1] if leaking and place == 0 else 0.0
            now = cask.aged(years, alcohol_share, 0.8 * alcohol_share, leaked)
            then = cask.contents
            if leaking and place == 0:
                month.leaking_cask = (cask.number, leaking[1])
            weighed = Cask(cask.number, cask.kind, 0, 0, "", cask.tare_kg, now)
            celsius = tools.temperature(11.0, 1.5)
            record, n = month.number("RG")
            row: Row = {
                "regauge": record,
                "at": month.stamp(hours),
                "cask": cask.number,
                "tare_kg": cask.written_tare_kg,
                "gross_kg": tools.weight(weighed.gross_kg(celsius)),
                "celsius": tools.celsius(celsius),
                "hydrometer_percent": tools.hydrometer(now.percent, celsius),
            }
            month.rows["regauges"].append(row)
            _mark_cask(month, "regauges", row, record, "regauge", n, slips=("gross_kg",))
            month.done(
                "regauge",
                n,
                record,
                cask=cask.number,
                lpa=now.alcohol,
                percent=now.percent,
                lost=1.0 - now.alcohol / then.alcohol,
            )
            hours += rng.uniform(0.15, 0.4)


def _mark_cask(month: Month, table: str, row: Row, record: str, operation: str, n: int, slips: tuple[str, ...]) -> None:
    def measure(cells: Mapping[str, Any]) -> float:
        net = cells["gross_kg"] - cells["tare_kg"]
        if net < 5.0:
            raise ValueError("a full cask that weighs no more than its tare")
        return alcohol_of_weight(net, cells["celsius"], cells["hydrometer_percent"])

    fields = dict.fromkeys(slips, "weight") | {"celsius": "celsius", "hydrometer_percent": "hydrometer"}
    month.marks.append(Mark(table, [row], record, operation, n, fields, measure, cask=row["cask"]))
