"""What could not have been seen: the smallest loss that would show here, and which better instrument would buy most.

Asked for one operation of a month when somebody looks at it. The window around it says how well a loss there can be
told from its readings; each better instrument is tried by putting its uncertainty in the place of the present one and
building the covariance anew. Figures of better instruments are common practice, no source.

Source: noncentral chi-square with one degree of freedom, as `statistics.power`.
"""

from __future__ import annotations

from ledger.comparing.drift.lasting import LASTING, Searched
from ledger.comparing.findings.unseen import BetterInstrument, Detectability
from ledger.comparing.model.balance_model import BalanceModel
from ledger.comparing.search.blocks import digest_of
from ledger.comparing.search.windows import OddnessAsAsked, neighbourhood, window_problem
from ledger.comparing.statistics.algebra.problem import Problem, RowKind
from ledger.comparing.statistics.faults.likelihood import FINDING_LEVEL
from ledger.comparing.statistics.faults.power import visibility, with_instruments

# What would measure better, which readings it would replace, and its standard uncertainty in their unit.
BETTER: tuple[tuple[str, str, float], ...] = (
    ("a density meter in place of the hydrometer", "hydrometer_percent", 0.02),
    ("a level gauge or weighed vessel in place of the dip", "dip_mm", 0.2),
    ("a thermometer certified to a fiftieth of a degree", "celsius", 0.02),
    ("a density meter in place of the saccharometer", "original_gravity", 0.00005),
    ("a meter in place of the volume written for residues", "litres", 0.0),
)
PROBABILITY = 0.9


def detectability_of(searched: Searched, record: str) -> Detectability | None:
    """What could not have been seen in the operation of a record; None where it has no balance."""
    model = searched.search.model
    key = f"operation:{record}"
    if key not in model.equations or model.equations[key].kind is not RowKind.OPERATION:
        return None
    keys = neighbourhood(model, key, OddnessAsAsked(model))
    problem = window_problem(_without_what_was_found(model, key), keys, searched.search.written)
    hypothesis = next(one for one in problem.hypotheses if one.key == f"loss:{key}")
    changes = {name: _swapped(searched, problem, part, to) for name, part, to in BETTER}
    changes = {name: swapped for name, swapped in changes.items() if swapped}
    charge, known = model.charges[key], searched.search.known

    def made() -> Detectability:
        now = visibility(problem, hypothesis, level=FINDING_LEVEL, probability=PROBABILITY)
        tried = with_instruments(problem, hypothesis, changes, level=FINDING_LEVEL, probability=PROBABILITY)
        better = sorted(
            (BetterInstrument(name, one.detectable) for name, one in tried.items()), key=lambda one: one.detectable
        )
        return Detectability(record, now.detectable, charge, tuple(better))

    return known.part((Detectability, key, digest_of(problem, changes, charge)), made) if known.remembers else made()


def _without_what_was_found(model: BalanceModel, key: str) -> BalanceModel:
    """The model without the faults that were found at this very row.

    The size of a found fault is left free. A loss found here would then hide every loss that is asked for here, though
    what can be seen hangs on the readings alone. What lasts over many runs stays in, because it does hide a part of a
    single loss.
    """
    kept = [one for one in model.free if key not in one.column or one.key.startswith(LASTING)]
    return model.with_free(kept) if len(kept) < len(model.free) else model


def _swapped(searched: Searched, problem: Problem, part: str, to: float) -> dict[str, float]:
    known = searched.search.model.known
    return {
        one.key: min(to, one.standard_uncertainty)
        for one in problem.readings
        if known[one.key].seen.part == part and one.standard_uncertainty
    }
