"""What a bottling comes to: where the alcohol went, what the packages and the label say, cases.

LPA out is what the labels say; `line loss = drawn − out − returns − samples`. The packers' rules and the tolerance of a
label are dated figures of the site; the law and the officer decide.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Final

from batches.sheets.results import PASS, STATES, Head, Line, Result
from batches.sheets.sheet import Note
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.values import Ungaugeable
from batches.steps.shared.bottle_checks import day_of, mean_fill_ml, mean_strength, nominal_ml, packages_of
from batches.steps.shared.site_figures import row_of
from batches.steps.shared.still_charges import gauged, worked_out
from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.pages import LOOK, Fact
from distillery.plant.models import MICRO
from distillery.process.bottling import (
    OnTheLine,
    cased,
    label_in_decimals,
    label_lpa,
    overfill_lpa,
    size_judged,
    within_label,
)
from distillery.process.product_names import Outcome
from distillery.rules.in_force import NoRuleInForce, review_threshold
from distillery.rules.models import ONE
from distillery.rules.packaged import size_rules

RULE_HEADS: Final = (Head("Requirement"), Head("Comes to"), Head("Found"), Head("Asked"), Head("Source"))
LABEL: Final = "strength beside its label, most"
MACERATED: Final = "strength beside its label, macerated, most"
YES, NO = "yes", "no"
DECIDES: Final = "the law and the officer decide"
ONE_DECIMAL: Final = "Regulation (EU) 1169/2011 as assimilated, Article 28 and Annex XII"
LOT_MARK: Final = "Food (Lot Marking) Regulations 1996; Directive 2011/91/EU"


def bottled_lpa(written: Completed) -> float:
    """What the bottles hold by their label. Raises Ungaugeable where something of it is not written."""
    return label_lpa(
        bottles=written.whole("bottles"),
        centilitres=written.real("bottle_centilitres"),
        label_percent=written.real("label_percent"),
    )


def poured_lpa(written: Completed, litres: str, percent: str) -> float:
    """What was sampled or poured back, by litres and strength; nothing where it is blank."""
    return written.real(litres) * written.real(percent) / 100.0 if written.has(litres) and written.has(percent) else 0.0


def on_the_line(written: Completed) -> OnTheLine:
    """Where the alcohol went. The vat's gauge after holds what was poured back, so what was drawn is more by that."""
    returned = poured_lpa(written, "returned_litres", "returned_percent")
    gone = gauged(written, "vat_before").lpa - gauged(written, "vat_after").lpa
    return OnTheLine(
        drawn_lpa=gone + returned,
        out_lpa=bottled_lpa(written),
        returned_lpa=returned,
        samples_lpa=poured_lpa(written, "samples_litres", "samples_percent"),
    )


def line_facts(written: Completed, now: datetime) -> list[Fact]:
    """What the bottling comes to."""
    return worked_out(
        (
            lambda: _where_it_went(written),
            lambda: _line_loss(written),
            lambda: _overfill(written),
            lambda: _cases(written),
        )
    )


def _lpa(litres: float) -> str:
    return figures.lpa(round(litres * MICRO))


def _where_it_went(written: Completed) -> Iterable[Fact]:
    line = on_the_line(written)
    yield Fact("Drawn from the vat", _lpa(line.drawn_lpa), "LPA", note="gauge before less gauge after")
    if line.returned_lpa:
        yield Fact("Poured back", _lpa(line.returned_lpa), "LPA", note="it is in the vat's gauge after")
    yield Fact("Bottled", _lpa(line.out_lpa), "LPA", note="bottles × contents × strength on the label")
    if line.samples_lpa:
        yield Fact("Samples", _lpa(line.samples_lpa), "LPA")


def _line_loss(written: Completed) -> Iterable[Fact]:
    line = on_the_line(written)
    rule = review_threshold("bottling", written.vessel("vat").code, day_of(written))
    usual, most = 100.0 * rule.usual_millionths / ONE, 100.0 * rule.threshold_millionths / ONE
    # As everywhere: the threshold has a floor in litres, below which nothing is looked into.
    over = abs(line.lost_percent) > most and abs(line.lost_lpa) > rule.floor_ul / MICRO
    way = "missing" if line.lost_lpa >= 0 else "over"
    note = f"{_lpa(abs(line.lost_lpa))} LPA {way}; usual {figures.percent(usual)} %, review threshold "
    note += f"{figures.percent(most)} %"
    yield Fact("Line loss", figures.percent(line.lost_percent, 2), "%", note=note, state=LOOK if over else None)


def _overfill(written: Completed) -> Iterable[Fact]:
    mean = mean_fill_ml(written)
    if mean is None:
        return
    over = mean - nominal_ml(written)
    strength = mean_strength(written)
    percent = written.real("label_percent") if strength is None else strength
    lpa = overfill_lpa(millilitres_each=over, bottles=written.whole("bottles"), percent20=percent)
    said = "over" if over >= 0 else "under"
    note = f"{figures.number(abs(over), 1)} mL {said} the label in each bottle, at {figures.percent(percent)} % vol"
    yield Fact("Overfill", _lpa(lpa), "LPA", note=note)


def _cases(written: Completed) -> Iterable[Fact]:
    if not written.has("bottles_a_case"):
        return
    a_case = written.whole("bottles_a_case")
    found = cased(bottles=written.whole("bottles"), bottles_a_case=a_case)
    loose = f"and {found.loose} loose bottle{'' if found.loose == 1 else 's'}" if found.loose else "no loose bottle"
    yield Fact("Cases", figures.count(found.cases), f"of {a_case}", note=loose)
    lpa = label_lpa(
        bottles=a_case, centilitres=written.real("bottle_centilitres"), label_percent=written.real("label_percent")
    )
    yield Fact("Alcohol in a case", figures.number(lpa, 3), "LPA")


def packers_rules(written: Completed, now: datetime) -> Result | None:
    """The bottles checked against the three packers' rules; nothing where no fill was checked."""
    try:
        found = packages_of(written)
        source = row_of("packages below T1, most", day_of(written))[0].source
    except (AlcoholometryError, Ungaugeable, NoRuleInForce):
        return None
    held = found.limits
    mean, t1, t2 = (f"{figures.number(one, 1)} mL" for one in (found.mean_ml, held.t1_ml, held.t2_ml))
    below = f"{found.below_t1} of {found.number}, {figures.percent(found.below_t1_percent)} %"
    few = f"at most {figures.percent(found.few_percent)} %"
    nominal = f"at least {figures.number(held.nominal_ml, 0)} mL"
    lines = (
        _rule("Mean of the bottles checked", found.mean_keeps, mean, nominal, held.source),
        _rule(f"Few below T1, {t1}", found.few_below_t1, below, few, source),
        _rule(f"None below T2, {t2}", found.none_below_t2, f"{found.below_t2} of {found.number}", "none", held.source),
    )
    note = f"tolerable negative error {figures.number(held.error_ml, 1)} mL; {DECIDES}"
    return Result("Packers' rules", RULE_HEADS, lines, note, said_in=1)


def label_and_size(written: Completed, now: datetime) -> Result | None:
    """What is asked of the label, of the size of the bottle and of the lot code; nothing before they are written."""
    lines = [line for part in (_strength, _decimals, _size, _lot) for line in _kept(part, written)]
    return Result("Label and size", RULE_HEADS, tuple(lines), DECIDES, said_in=1) if lines else None


def _kept(part: Callable[[Completed], Iterable[Line]], written: Completed) -> list[Line]:
    try:
        return list(part(written))
    except (AlcoholometryError, Ungaugeable, NoRuleInForce):
        return []


def _rule(said: str, kept: bool, found: str, asked: str, source: str) -> Line:
    return Line((said, PASS if kept else "", found, asked, source), None if kept else STATES[Outcome.FAIL])


def tolerance_of(written: Completed) -> tuple[float, str]:
    """How far a strength may lie from its label, % vol, and by what source. Raises NoRuleInForce."""
    row, tolerance = row_of(MACERATED if written.text("macerated") == YES else LABEL, day_of(written))
    return tolerance, row.source


def _strength(written: Completed) -> Iterable[Line]:
    measured = mean_strength(written)
    if measured is None:
        return
    label = written.real("label_percent")
    tolerance, source = tolerance_of(written)
    kept = within_label(declared_percent=label, measured_percent=measured, tolerance_percent=tolerance)
    asked = f"{figures.percent(label)} ± {figures.percent(tolerance)} % vol"
    yield _rule("Strength beside the label", kept, f"{figures.percent(measured, 2)} % vol", asked, source)


def _decimals(written: Completed) -> Iterable[Line]:
    label = written.decimal("label_percent")
    kept = label_in_decimals(label)
    yield _rule("Strength as declared", kept, f"{label:f} % vol", "at most one decimal", ONE_DECIMAL)


def _size(written: Completed) -> Iterable[Line]:
    nominal = nominal_ml(written)
    judged = size_judged(nominal, size_rules(day_of(written)))
    asked = "a listed size" if judged.may_be_sold else _listed(judged.listed_ml)
    yield _rule("Size of the bottle", judged.may_be_sold, f"{figures.number(nominal, 0)} mL", asked, judged.source)


def _listed(sizes: tuple[float, ...]) -> str:
    return f"{', '.join(f'{one:g}' for one in sizes[:-1])} or {sizes[-1]:g} mL, or below 100 or above 2,000"


def _lot(written: Completed) -> Iterable[Line]:
    for name, said in (("lot_on_bottles", "Lot code on each bottle"), ("lot_on_cases", "Lot code on each case")):
        if written.has(name):
            found = written.text(name)
            yield _rule(said, found == YES, found, written.text("lot_code", "the lot code"), LOT_MARK)


def unlike_its_label(written: Completed) -> list[Note]:
    """What would be kept though it is not as it should be: packages, strength, lot code, bottles used."""
    notes = []
    packed = packers_rules(written, written.moment("at"))
    if packed is not None and any(line.state for line in packed.lines):
        failed = "; ".join(line.cells[0][:1].lower() + line.cells[0][1:] for line in packed.lines if line.state)
        notes.append(Note("bottles", None, f"Hold: the bottles checked fail the packers' rules: {failed}."))
    labelled = label_and_size(written, written.moment("at"))
    for line in labelled.lines if labelled is not None else ():
        if line.state is not None:
            field = next((one for said, one in _FIELDS.items() if line.cells[0].startswith(said)), "label_percent")
            notes.append(Note(field, None, f"{line.cells[0]}: found {line.cells[2]}; asked {line.cells[3]}."))
    return [*notes, *_fewer_than_bottled(written)]


_FIELDS: Final = {"Size": "bottle_centilitres", "Lot code on each bottle": "lot_on_bottles", "Lot code": "lot_on_cases"}


def _fewer_than_bottled(written: Completed) -> Iterable[Note]:
    bottles = written.whole("bottles")
    for name in ("bottles_used", "closures_used"):
        if written.has(name) and written.whole(name) < bottles:
            label = written.sheet.field(name).label
            said = f"{label} is {figures.count(written.whole(name))}, but {figures.count(bottles)} bottles were filled."
            yield Note(name, None, said)
