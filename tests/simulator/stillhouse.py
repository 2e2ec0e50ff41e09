"""Malt to new spirit: deliveries, mashes, fermentations, the wash still and the spirit still, as tasks of the month."""

from collections import defaultdict
from collections.abc import Callable, Mapping
from typing import Any

from .instruments import litres_at_20, percent_by_attenuation
from .liquid import Liquid
from .month import Mark, Month, Row
from .process import (
    Fermentation,
    cut_parts,
    distil_spirit,
    distil_wash,
    distillate_at_safe,
    ferment,
    low_wines_at_safe,
)
from .vessels import Vessel


class StillHouse:
    """Runs one month's distilling; hands full receivers on to `send_spirit`."""

    def __init__(self, month: Month, send_spirit: Callable[[], None]) -> None:
        self.month = month
        self.habits = month.plant.habits
        self.send_spirit = send_spirit
        self.busy_washbacks: set[str] = set()
        self.fermented: dict[str, tuple[str, Fermentation]] = {}
        self.malt_left = 0.0
        self.lot = ""
        self.still_turns: dict[str, int] = defaultdict(int)
        self.cuts_in_receiver = 0

    def plan(self) -> None:
        for hours in self.habits.mashing_hours:
            self.month.at(hours, self.mash, hours)

    # --- malt, mash, fermentation

    def deliver_malt(self) -> None:
        month, rng = self.month, self.month.rng
        self.lot, n = f"M{len(month.rows['intake']) + 1:03d}", len(month.rows["intake"])
        kilograms = int(max(round(self.habits.mash_kg * rng.uniform(3.0, 7.0) / 500.0), 4) * 500)
        self.malt_left = kilograms
        month.rows["intake"].append(
            {
                "lot": self.lot,
                "kind": "malt",
                "received_at": month.stamp(month.now),
                "kilograms": kilograms,
                "moisture_percent": round(rng.normal(4.4, 0.22), 1),
                "nitrogen_percent": round(rng.normal(1.46, 0.035), 2),
                "predicted_spirit_yield_lpa_per_tonne": round(rng.normal(self.habits.predicted_yield, 1.8), 1),
                "silo": f"SI{n % 2 + 1}",
            }
        )

    def mash(self, due: float) -> None:
        month, rng, habits = self.month, self.month.rng, self.habits
        free = [code for code in month.plant.washbacks if code not in self.busy_washbacks]
        if not free:
            if month.now - due < 8.0:
                month.after(0.5, self.mash, due)
            return
        ended = month.now + rng.uniform(4.0, 5.8)
        if ended > month.hours - 2.0:
            return
        if self.malt_left < habits.mash_kg:
            self.deliver_malt()
        self.malt_left -= habits.mash_kg
        washback = free[0]
        self.busy_washbacks.add(washback)
        record, n = month.number("MA")
        batch = ferment(rng, habits)
        flour, husk = round(rng.normal(10.0, 0.7), 1), round(rng.normal(20.0, 1.0), 1)
        tonnes = habits.mash_kg / 1000.0
        month.rows["mashes"].append(
            {
                "mash": record,
                "started_at": month.stamp(month.now),
                "ended_at": month.stamp(ended),
                "malt_lot": self.lot,
                "grist_kg": habits.mash_kg,
                "husk_percent": husk,
                "grits_percent": round(100.0 - husk - flour, 1),
                "flour_percent": flour,
                "water1_litres": round(tonnes * 390.0) * 10,
                "water1_celsius": round(rng.normal(63.5, 0.4), 1),
                "water2_litres": round(tonnes * 160.0) * 10,
                "water2_celsius": round(rng.normal(75.8, 0.7), 1),
                "water3_litres": round(tonnes * 320.0) * 10,
                "water3_celsius": round(rng.normal(86.0, 1.0), 1),
                "wort_litres": round(batch.wash.litres() * rng.normal(0.985, 0.002)),
                "wort_gravity": month.tools.gravity(batch.original_gravity),
                "wort_celsius": round(rng.normal(17.8, 0.9), 1),
                "washback": washback,
            }
        )
        month.at(ended, self.pitch, record, n, washback, batch)

    def pitch(self, mash: str, n: int, washback: str, batch: Fermentation) -> None:
        month, habits = self.month, self.habits
        record, n = month.number("FE")
        row: Row = {
            "fermentation": record,
            "mash": mash,
            "washback": washback,
            "yeast_lot": f"Y{1 + int(month.now // 290):03d}",
            "yeast_kg": round(habits.mash_kg * 0.00825, 1),
            "pitched_at": month.stamp(month.now),
            "original_gravity": month.tools.gravity(batch.original_gravity),
            "ended_at": None,
            "final_gravity": None,
            "final_dip_mm": None,
            "final_celsius": None,
        }
        month.rows["fermentations"].append(row)
        ended = month.now + batch.hours
        readings, age = [], 0.0
        while month.now + age < min(ended, month.hours):
            hours = month.now + age
            readings.append((hours, "gravity", month.tools.gravity(batch.gravity_at(age))))
            readings.append((hours, "celsius", month.tools.celsius(batch.celsius_at(age))))
            age += habits.reading_hours
        month.read(month.now, record, readings)
        month.at(ended, self.finish_fermentation, row, n, batch)

    def finish_fermentation(self, row: Row, n: int, batch: Fermentation) -> None:
        month, tools = self.month, self.month.tools
        record, washback = row["fermentation"], month.vessel(row["washback"])
        washback.contents = batch.wash
        month.come("fermentation", batch.wash)
        celsius = tools.temperature(washback.celsius, 1.2)
        row["ended_at"] = month.stamp(month.now)
        row["final_gravity"] = tools.gravity(batch.final_gravity)
        row["final_dip_mm"] = tools.dip(washback.calibration, batch.wash.litres(celsius))
        row["final_celsius"] = tools.celsius(celsius)

        def measure(cells: Mapping[str, Any]) -> float:
            percent = percent_by_attenuation(cells["original_gravity"], cells["final_gravity"])
            litres = washback.calibration.litres_at(cells["final_dip_mm"])
            return litres_at_20(litres, cells["final_celsius"], percent) * percent / 100.0

        fields = {"original_gravity": "gravity", "final_gravity": "gravity", "final_dip_mm": "dip"}
        fields["final_celsius"] = "celsius"
        month.marks.append(Mark("fermentations", [row], record, "fermentation", n, fields, measure))
        wash = batch.wash
        month.done(
            "fermentation",
            n,
            record,
            lpa=wash.alcohol,
            litres=wash.litres(),
            abv=wash.percent,
            done=row["ended_at"],
        )
        self.fermented[washback.code] = (record, batch)
        waiting = 0.1 if month.rng.random() < 0.3 else month.rng.uniform(0.5, 9.0)
        month.after(waiting, self.charge_wash, washback.code, 1)

    # --- wash still

    def charge_wash(self, code: str, part: int) -> None:
        month, rng, tools, habits = self.month, self.month.rng, self.month.tools, self.habits
        plant, receiver = month.plant, month.vessel(month.plant.low_wines)
        still = plant.wash_stills[self.still_turns["wash"] % len(plant.wash_stills)]
        if month.must_wait((still, receiver.code), self.charge_wash, code, part):
            return
        if not receiver.room_for(1.06 * habits.charge_alcohol / habits.low_wines_percent * 100.0):
            month.after(0.75, self.charge_wash, code, part)
            return
        ended = month.now + rng.uniform(4.6, 6.2)
        if ended > month.hours - 1.0:
            return
        self.still_turns["wash"] += 1
        washback = month.vessel(code)
        fermentation, batch = self.fermented[code]
        parts_left = habits.charges_per_washback - part + 1
        charge = washback.contents.share(rng.uniform(0.47, 0.53) if parts_left > 1 else 1.0)
        celsius = tools.temperature(washback.celsius, 1.2)
        record, n = month.number("WR")
        before = tools.dip(washback.calibration, washback.contents.litres(celsius))
        washback.contents = washback.contents - charge
        left = washback.contents
        row: Row = {
            "run": record,
            "still": still,
            "fermentation": fermentation,
            "washback": code,
            "charged_at": month.stamp(month.now),
            "washback_before_dip_mm": before,
            "washback_before_celsius": tools.celsius(celsius),
            "washback_after_dip_mm": 0 if left.is_empty else tools.dip(washback.calibration, left.litres(celsius)),
            "ended_at": month.stamp(ended),
            "receiver": receiver.code,
        }
        month.rows["wash_runs"].append(row)
        self._mark_wash(row, record, n, washback, batch.wash.percent)
        month.gauge(receiver, "wash_runs", row, "receiver_before", record, "wash", n)
        month.hold(ended, still, receiver.code)
        steps = 8
        month.read(
            month.now,
            record,
            [
                (
                    month.now + (ended - month.now) * i / steps,
                    "low_wines_percent",
                    round(max(0.3, low_wines_at_safe(i / steps) + rng.normal(0.0, 0.35)), 1),
                )
                for i in range(steps + 1)
            ],
        )
        month.at(ended, self.finish_wash, row, n, charge, parts_left, part)

    def _mark_wash(self, row: Row, record: str, n: int, washback: Vessel, percent: float) -> None:
        def measure(cells: Mapping[str, Any]) -> float:
            after = washback.calibration.litres_at(cells["washback_after_dip_mm"])
            litres = washback.calibration.litres_at(cells["washback_before_dip_mm"]) - after
            return litres_at_20(litres, cells["washback_before_celsius"], percent) * percent / 100.0

        fields = {"washback_before_dip_mm": "dip", "washback_before_celsius": "celsius"}
        if row["washback_after_dip_mm"]:
            fields["washback_after_dip_mm"] = "dip"
        self.month.marks.append(Mark("wash_runs", [row], record, "wash", n, fields, measure))

    def finish_wash(self, row: Row, n: int, charge: Liquid, parts_left: int, part: int) -> None:
        month, rng, habits = self.month, self.month.rng, self.habits
        record, receiver = row["run"], month.vessel(row["receiver"])
        leak = habits.wash_leak_share if habits.wash_leak_from and n >= habits.wash_leak_from else 0.0
        run = distil_wash(rng, habits, charge, leak)
        receiver.contents = receiver.contents + run.low_wines
        month.leave("pot ale", run.pot_ale)
        month.leave("wash run", run.vapour)
        month.leave("leak", run.leak)
        month.gauge(receiver, "wash_runs", row, "receiver_after", record, "wash", n)
        row["pot_ale_litres"] = float(round(run.pot_ale.litres() / 10.0) * 10)
        row["pot_ale_percent"] = round(max(0.01, run.pot_ale.percent + rng.normal(0.0, 0.02)), 2)
        month.done(
            "wash_run",
            n,
            record,
            charged=charge.alcohol,
            low_wines=run.low_wines.alcohol,
            pot_ale=run.pot_ale.alcohol,
            vapour=run.vapour.alcohol,
            leak=run.leak.alcohol,
        )
        if parts_left > 1:
            month.after(rng.uniform(0.4, 1.2), self.charge_wash, row["washback"], part + 1)
        else:
            self.busy_washbacks.discard(row["washback"])
        month.after(rng.uniform(0.25, 0.6), self.charge_spirit)

    # --- spirit still

    def charge_spirit(self) -> None:
        month, rng, habits, plant = self.month, self.month.rng, self.habits, self.month.plant
        still = plant.spirit_stills[self.still_turns["spirit"] % len(plant.spirit_stills)]
        low_wines, feints, spirit = (month.vessel(code) for code in (plant.low_wines, plant.feints, plant.spirit))
        if month.must_wait((still, low_wines.code, feints.code, spirit.code), self.charge_spirit):
            return
        if low_wines.contents.alcohol < 0.6 * habits.charge_alcohol:
            return
        if not spirit.room_for(1.08 * habits.cut_litres):
            self.send_spirit()
            month.after(0.5, self.charge_spirit)
            return
        ended = month.now + rng.uniform(5.6, 7.2)
        if ended > month.hours - 1.0:
            return
        self.still_turns["spirit"] += 1
        record, n = month.number("SR")
        row: Row = {"run": record, "still": still, "charged_at": month.stamp(month.now)}
        month.rows["spirit_runs"].append(row)
        month.gauge(low_wines, "spirit_runs", row, "low_wines_before", record, "spirit", n)
        month.gauge(feints, "spirit_runs", row, "feints_before", record, "spirit", n)
        charge = self._draw(low_wines, 1.15 * habits.charge_alcohol, 0.022)
        charge = charge + self._draw(feints, 1.3 * feints.contents.alcohol, 0.028)
        month.gauge(low_wines, "spirit_runs", row, "low_wines_after", record, "spirit", n)
        month.gauge(feints, "spirit_runs", row, "feints_after", record, "spirit", n)
        first, last = rng.normal(74.6, 0.35), rng.normal(62.8 + 2.0 * (habits.cut_percent - 70.0), 0.5)
        on, off = (month.now + 0.3 + part * (ended - month.now - 0.3) for part in cut_parts(first, last))
        row.update(
            spirit_on_at=month.stamp(on),
            spirit_off_at=month.stamp(off),
            cut_on_percent=round(first, 1),
            cut_off_percent=round(last, 1),
            ended_at=month.stamp(ended),
            spirit_receiver=spirit.code,
            feints_receiver=feints.code,
        )
        month.gauge(spirit, "spirit_runs", row, "spirit_before", record, "spirit", n)
        month.gauge(feints, "spirit_runs", row, "feints_receiver_before", record, "spirit", n)
        month.hold(ended, still, feints.code, spirit.code)
        month.hold(month.now, low_wines.code)
        steps, begun = 12, month.now + 0.3
        month.read(
            month.now,
            record,
            [
                (
                    begun + (ended - begun) * i / steps,
                    "distillate_percent",
                    round(distillate_at_safe(i / steps) + rng.normal(0.0, 0.25), 1),
                )
                for i in range(steps + 1)
            ],
        )
        month.at(ended, self.finish_spirit, row, n, charge)

    def _draw(self, vessel: Vessel, at_most_alcohol: float, heel_share: float) -> Liquid:
        """Empty a receiver into the still down to its heel, or as much as the still takes."""
        contents = vessel.contents
        heel = heel_share * self.month.rng.uniform(0.9, 1.1)
        fraction = min(1.0 - heel, at_most_alcohol / contents.alcohol)
        drawn = contents.share(fraction)
        vessel.contents = contents - drawn
        return drawn

    def finish_spirit(self, row: Row, n: int, charge: Liquid) -> None:
        month, rng, habits = self.month, self.month.rng, self.habits
        record = row["run"]
        spirit, feints = month.vessel(row["spirit_receiver"]), month.vessel(row["feints_receiver"])
        leak = habits.spirit_leak_share if habits.spirit_leak_from and n >= habits.spirit_leak_from else 0.0
        run = distil_spirit(rng, habits, charge, leak)
        spirit.contents = spirit.contents + run.cut
        feints.contents = feints.contents + run.feints
        month.leave("spent lees", run.spent_lees)
        month.leave("spirit run", run.vapour)
        month.leave("leak", run.leak)
        month.gauge(spirit, "spirit_runs", row, "spirit_after", record, "spirit", n)
        month.gauge(feints, "spirit_runs", row, "feints_receiver_after", record, "spirit", n)
        row["spent_lees_litres"] = float(round(run.spent_lees.litres() / 10.0) * 10)
        measured = round(max(0.01, run.spent_lees.percent + rng.normal(0.0, 0.015)), 2)
        row["spent_lees_percent"] = habits.lees_written_percent or measured
        month.done(
            "spirit_run",
            n,
            record,
            charged=charge.alcohol,
            cut=run.cut.alcohol,
            feints=run.feints.alcohol,
            spent_lees=run.spent_lees.alcohol,
            vapour=run.vapour.alcohol,
            leak=run.leak.alcohol,
            cut_percent=run.cut.percent,
        )
        self.cuts_in_receiver += 1
        if self.cuts_in_receiver >= habits.cuts_per_transfer:
            self.cuts_in_receiver = 0
            month.after(rng.uniform(0.3, 0.7), self.send_spirit)
