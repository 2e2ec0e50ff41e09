"""Vodka and gin: the third still, reduction to label strength, the bottling line, and bottles that leave bond."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from .instruments import alcohol_of
from .liquid import Liquid
from .month import Mark, Month, Row
from .process import distil_third
from .spirit_store import reduce, transfer
from .vessels import Vessel

_REMOVALS = ("home use", "home use", "home use", "export", "under bond")


class ThirdStill:
    """Everything after the spirit vat that does not go into casks."""

    def __init__(self, month: Month) -> None:
        self.month = month
        self.habits = month.plant.habits

    def plan(self) -> None:
        month, rng = self.month, self.month.rng
        for hours in self.habits.third_hours:
            kind = str(rng.choice(self.habits.products))
            month.at(hours, self.charge, kind)
        if self.habits.products:
            for hours in rng.uniform(30.0, month.hours - 5.0, self.habits.months * self.habits.removals):
                month.at(float(hours), self.remove)

    def _source(self) -> Vessel:
        return max((self.month.vessel(code) for code in self.month.plant.vats), key=lambda vat: vat.contents.alcohol)

    def charge(self, kind: str) -> None:
        month, rng, plant, habits = self.month, self.month.rng, self.month.plant, self.habits
        source, product = self._source(), month.vessel(plant.product_vats[kind])
        tails = month.vessel(plant.heads_and_tails)
        if month.must_wait(("third still", source.code, product.code, tails.code), self.charge, kind):
            return
        if source.contents.alcohol < 1.3 * habits.third_charge:
            month.after(11.0, self.charge, kind)
            return
        reduced_litres = (product.contents.alcohol + habits.third_charge) / habits.label_percent[kind] * 100.0
        if reduced_litres > 0.95 * product.capacity or not tails.room_for(habits.third_charge * 0.13):
            # In one month the run is left out; in many the tanks would stay full for good.
            if habits.months > 1:
                self.make_room(kind, source, tails)
                month.after(48.0, self.charge, kind)
            return
        ended = month.now + rng.uniform(6.5, 9.5)
        if ended > month.hours - 3.0:
            return
        record, n = month.number("TS")
        drawn = habits.third_charge * rng.choice([0.95, 1.0, 1.0, 1.05])
        charge = source.contents.share(drawn / source.contents.alcohol)
        row: Row = {
            "run": record,
            "kind": kind,
            "charged_at": month.stamp(month.now),
            "source": source.code,
            "ended_at": month.stamp(ended),
            "product_vessel": product.code,
            "charcoal_kg": None if kind == "gin" else max(2, round(charge.alcohol * 0.06)),
            "recipe": plant.recipe if kind == "gin" else None,
            "baskets": plant.baskets,
        }
        month.rows["third_still_runs"].append(row)
        month.gauge(source, "third_still_runs", row, "source_before", record, "third", n)
        source.contents = source.contents - charge
        month.gauge(source, "third_still_runs", row, "source_after", record, "third", n)
        month.gauge(product, "third_still_runs", row, "product_before", record, "third", n)
        month.gauge(tails, "third_still_runs", row, "heads_tails_before", record, "third", n)
        month.hold(month.now + 0.2, source.code)
        month.hold(ended, "third still", product.code, tails.code)
        month.at(ended, self.finish, row, n, kind, charge)

    def make_room(self, kind: str, source: Vessel, tails: Vessel) -> None:
        """Bottle what the product's vat holds, and put heads and tails back to the spirit that is charged again."""
        self.make_ready(kind)
        amount = tails.contents.share(0.9)
        if not tails.room_for(self.habits.third_charge * 0.13) and source.room_for(1.2 * amount.litres()):
            transfer(self.month, tails, source, amount)

    def finish(self, row: Row, n: int, kind: str, charge: Liquid) -> None:
        month, plant = self.month, self.month.plant
        record, product = row["run"], month.vessel(row["product_vessel"])
        tails = month.vessel(plant.heads_and_tails)
        run = distil_third(month.rng, self.habits, kind, charge)
        month.come("water", run.water)
        product.contents = product.contents + run.heart
        tails.contents = tails.contents + run.heads_and_tails
        month.leave("third still", run.lost)
        month.gauge(product, "third_still_runs", row, "product_after", record, "third", n)
        month.gauge(tails, "third_still_runs", row, "heads_tails_after", record, "third", n)
        month.done(
            "third_run",
            n,
            record,
            charged=charge.alcohol,
            heart=run.heart.alcohol,
            heads_tails=run.heads_and_tails.alcohol,
            loss=run.lost.alcohol,
        )
        if month.rng.random() < 0.75:
            month.after(month.rng.uniform(0.5, 30.0), self.make_ready, kind)

    def make_ready(self, kind: str) -> None:
        """Bring a product to label strength; bottle it, through the bottling vat where the site has one."""
        month, plant = self.month, self.month.plant
        product, label = month.vessel(plant.product_vats[kind]), self.habits.label_percent[kind]
        if month.must_wait((product.code,), self.make_ready, kind) or month.now > month.hours - 4.0:
            return
        if product.contents.is_empty:
            return
        if product.contents.percent > label + 0.3:
            reduce(month, product, label)
        if kind in plant.bottling_vats:
            month.after(month.rng.uniform(1.0, 24.0), self.send_to_bottling, kind)
        elif month.rng.random() < 0.7:
            month.after(month.rng.uniform(1.0, 24.0), self.bottle, product, kind)

    def send_to_bottling(self, kind: str) -> None:
        month = self.month
        product = month.vessel(month.plant.product_vats[kind])
        vat = month.vessel(month.plant.bottling_vats[kind])
        if month.must_wait((product.code, vat.code), self.send_to_bottling, kind):
            return
        reduced = product.contents.percent < self.habits.label_percent[kind] + 0.3
        if product.contents.is_empty or not reduced or not vat.room_for(product.contents.litres()):
            return
        transfer(month, product, vat, product.contents)
        if month.now < month.hours - 4.0:
            month.after(month.rng.uniform(0.6, 3.0), self.bottle, vat, kind)

    def bottle(self, vat: Vessel, kind: str) -> None:
        month, rng, habits = self.month, self.month.rng, self.habits
        if month.must_wait((vat.code,), self.bottle, vat, kind):
            return
        label, nominal = habits.label_percent[kind], 10.0 * habits.bottle_centilitres
        if vat.contents.is_empty:
            return
        if vat.contents.percent > label + 0.3:
            if vat.code not in month.plant.bottling_vats.values():
                return
            # What was left of a stronger product in a vat that two share: brought to the strength of the label first.
            reduce(month, vat, label)
        mean_fill = nominal + rng.uniform(0.1, 1.0)
        litres = vat.contents.litres()
        share_lost = habits.bottling_share * rng.uniform(0.85, 1.15)
        most = (litres * rng.uniform(0.86, 0.96)) / (mean_fill / 1000.0) * (1.0 - share_lost)
        bottles = int(most // habits.bottles_per_case) * habits.bottles_per_case
        if bottles < 2 * habits.bottles_per_layer:
            return
        record, n = month.number("BO")
        day = month.start + timedelta(hours=month.now)
        row: Row = {
            "bottling": record,
            "at": month.stamp(month.now),
            "vat": vat.code,
            "product": kind,
            "lot_code": day.strftime("L%y%j"),
            "bottle_centilitres": habits.bottle_centilitres,
            "label_percent": label,
            "bottles": bottles,
        }
        month.rows["bottlings"].append(row)
        strength = vat.contents.percent
        month.gauge(vat, "bottlings", row, "vat_before", record, "bottling", n)
        in_bottles = vat.contents.share(bottles * mean_fill / 1000.0 / litres)
        lost = in_bottles.share(share_lost)
        vat.contents = vat.contents - in_bottles - lost
        month.leave("bottles", in_bottles)
        month.leave("bottling", lost)
        month.gauge(vat, "bottlings", row, "vat_after", record, "bottling", n)
        row["mean_fill_millilitres"] = round(mean_fill + rng.normal(0.0, 0.05), 1)
        row["mean_strength_percent"] = round(strength + rng.normal(0.0, 0.03), 1)
        month.hold(month.now + 1.0, vat.code)
        month.bottles[kind] = month.bottles.get(kind, 0) + bottles
        on_label = bottles * nominal / 1000.0 * label / 100.0
        month.done("bottling", n, record, bottled=on_label, loss=lost.alcohol, overfill=in_bottles.alcohol - on_label)
        self._mark_bottles(row, record, n, vat)

    def _mark_bottles(self, row: Row, record: str, n: int, vat: Vessel) -> None:
        table = vat.calibration

        def measure(cells: Mapping[str, Any]) -> float:
            if cells["bottles"] <= 0:
                raise ValueError("no bottles at all")
            before, after = (
                alcohol_of(
                    table,
                    cells[f"vat_{when}_dip_mm"],
                    cells[f"vat_{when}_celsius"],
                    cells[f"vat_{when}_hydrometer_percent"],
                )
                for when in ("before", "after")
            )
            bottled = cells["bottles"] * cells["bottle_centilitres"] / 100.0 * cells["label_percent"] / 100.0
            return float(before - after - bottled)

        fields = {"bottles": "bottles"}
        for when in ("before", "after"):
            fields |= {f"vat_{when}_dip_mm": "dip", f"vat_{when}_celsius": "celsius"}
            fields |= {f"vat_{when}_hydrometer_percent": "hydrometer"}
        rest = tuple(name for name in fields if name != "bottles")
        self.month.marks.append(Mark("bottlings", [row], record, "bottling", n, fields, measure, rest))

    def remove(self) -> None:
        """Send cases out of bond, never so many that a layer counted short would leave less than nothing."""
        month, rng, habits = self.month, self.month.rng, self.habits
        product = str(rng.choice(habits.products))
        spare = month.bottles.get(product, 0) - 2 * habits.bottles_per_layer
        wanted = int(rng.integers(2, 40)) * habits.bottles_per_case
        bottles = min(wanted, spare // habits.bottles_per_case * habits.bottles_per_case)
        if bottles <= 0:
            return
        record, n = month.number("RM")
        way = str(rng.choice(_REMOVALS))
        month.bottles[product] -= bottles
        label = habits.label_percent[product]
        month.rows["removals"].append(
            {
                "removal": record,
                "at": month.stamp(month.now),
                "product": product,
                "bottle_centilitres": habits.bottle_centilitres,
                "label_percent": label,
                "bottles": bottles,
                "kind": way,
            }
        )
        month.done("removal", n, record, lpa=bottles * habits.bottle_centilitres / 100.0 * label / 100.0, way=way)
