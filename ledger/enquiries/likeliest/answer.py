"""The likeliest cause of a finding in one sentence, and how well it fits beside everything else that was tried.

Causes and what each would leave are those of the search (`ledger.comparing.findings`); here they are only put into
words. Nothing is decided and nothing in the books is changed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from distillery.figures import difference_said, lpa
from distillery.plant.models import MICRO
from ledger.comparing.findings.finding import COUNT, TIME, WATCH, Finding
from ledger.comparing.findings.fitting import Fit, fit_beside
from ledger.comparing.findings.likely import Likely
from ledger.words_of_columns import words_of

NOTHING_FITS: Final = (
    "No single reading of the neighbouring gauges and no movement would explain it. Look for a real loss, or for an "
    "entry that is missing."
)


@dataclass(frozen=True, slots=True)
class Words:
    """A piece of a sentence; `strong` where it is one of the figures that the sentence is about."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """What an enquiry opens with. `reading` is the reading to be put right where one is the likeliest, or fits as well
    as a loss; `is_loss` says that alcohol lost (or gained) explains it as well as anything.
    """

    said: tuple[Words, ...]
    fit: str
    look_next: str
    reading: Likely | None
    is_loss: bool

    @property
    def sentence(self) -> str:
        """The same as plain text."""
        return "".join(one.text for one in self.said)


def answer_of(finding: Finding, open_ul: int) -> Answer:
    """The answer to a finding. `open_ul` is what of its difference is open now, microlitres, missing positive."""
    if not finding.lines or finding.kind in (WATCH, TIME):
        plain = finding.sentence if finding.kind in (WATCH, TIME) else NOTHING_FITS
        look = finding.lines[0].look_next if finding.lines else ""
        return Answer((Words(plain),), "", look, None, finding.may_be_loss)
    first = finding.lines[0]
    readings = [one for one in first.causes if one.field and one.would_be]
    loss = next((one for one in first.causes if one.is_loss), None)
    if loss is not None and finding.kind != COUNT:
        said = _either(loss, readings, open_ul)
    elif readings:
        said = tuple(_of_reading(readings[0], unlike=finding.beside_usual is not None))
    else:
        said = (Words(f"{_capital(first.causes[0].cause)}; {_leaves(first.causes[0].leaves_lpa)} would be left."),)
    return Answer(said, fit_of(finding), first.look_next, readings[0] if readings else None, loss is not None)


def fit_of(finding: Finding) -> str:
    """How well the likeliest cause fits beside all else, in one sentence."""
    first, *others = finding.lines
    if len(first.causes) > 1:
        others_said = "another" if len(first.causes) == 2 else f"{len(first.causes) - 1} others"
        return f"Fits as well as {others_said} below: the figures cannot tell which."
    rivals = [one.statistic for one in others]
    rivals += [finding.others_statistic] if finding.others_statistic is not None else []
    if not rivals:
        return "Nothing else that was tried explains it."
    fit = fit_beside(first.statistic, max(rivals))
    if fit in (Fit.FAR_BETTER, Fit.BETTER):
        return f"Fits {fit} than anything else."
    return "Fits about as well as what stands below: look before you choose."


def what_of(cause: Likely) -> str:
    """Where and what a wrong reading is: 'Spirit receiver after: the dip' of a sheet, 'the tare of 2022/0007'."""
    words = words_of(cause.record_kind, cause.field)
    place, colon, _ = words.label.rpartition(": ")
    name = cause.reading or words.short
    if colon:
        return f"{place}: the {name}"
    if ":" in cause.vessel:
        # What came from beyond the fence, or went there, was measured at no vessel: its box is its name.
        return f"the figure '{words.label}'"
    return f"the {name} of {cause.vessel}" if cause.vessel else f"the {name}"


def _of_reading(cause: Likely, *, unlike: bool) -> Iterable[Words]:
    yield Words(f"{_capital(what_of(cause))} was written ")
    yield Words(cause.written, strong=True)
    if unlike:
        yield Words("; ")
        yield Words(cause.would_be, strong=True)
        yield Words(" would be like its kind.")
        return
    yield Words("; read as ")
    yield Words(cause.would_be, strong=True)
    yield Words(" it leaves ")
    yield Words(_leaves(cause.leaves_lpa), strong=True)
    yield Words(f"{_next_gauge(cause)}.")


def _next_gauge(cause: Likely) -> str:
    beside = cause.neighbour
    if beside is None:
        return ", and no other gauge speaks for it or against it" if cause.comes_to is not None else ""
    where = "the book it met" if beside.record == cause.record else f"the next gauge, of {beside.record},"
    if beside.agrees:
        return f", and {where} agrees"
    return f", but by {where} {_leaves(beside.leaves_lpa)} would still stand"


def _either(loss: Likely, readings: list[Likely], open_ul: int) -> tuple[Words, ...]:
    amount = lpa(abs(open_ul)) if open_ul else ""
    what = "was lost" if open_ul >= 0 else "more came out than went in"
    lost = (
        [Words(f"{amount} LPA", strong=True), Words(f" {what} in {loss.record}")]
        if amount
        else [Words(_capital(loss.cause))]
    )
    if not readings:
        return (*lost, Words("; no reading explains it as well."))
    one = readings[0]
    return (
        Words("Either "),
        *lost,
        Words(f", or {_small(what_of(one))} in {one.record} was written "),
        Words(one.written, strong=True),
        Words(" for "),
        Words(one.would_be, strong=True),
        Words(": the figures cannot tell which."),
    )


def _leaves(left_lpa: float) -> str:
    return difference_said(round(left_lpa * MICRO)) if round(left_lpa, 2) else "nothing"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _small(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"
