"""An enquiry about a watch as a whole: opened by a person, kept in step with the watch until it is answered."""

from __future__ import annotations

from typing import Final

from distillery.database.retrying import retried
from distillery.figures import difference_said
from distillery.people.models import Person
from ledger.comparing.findings.finding import Finding
from ledger.comparing.statistics.charts.charts import FEWEST_LASTING
from ledger.enquiries.covering import LASTING, amount_of, covered, explained_of
from ledger.enquiries.models import Ending, Enquiry, EnquiryRun, What
from ledger.enquiries.opening import About, Unanswerable, add, hold, open_about, open_period
from ledger.enquiries.standing import UNANSWERED, Standing, State, standing_of
from ledger.periods.calendar import Calendar, period_of
from ledger.posting.turns import turn

# A watch is estimated anew with every entry. A change smaller than this is not written down, in microlitres.
LEAST_CHANGE: Final = 10_000


@retried
def open_whole(finding: Finding, *, person: Person, why: str) -> Enquiry:
    """Opens an enquiry about a watch as a whole, or adds to the one that stands. Raises Unanswerable."""
    if not why.strip():
        raise Unanswerable("Why is blank; say what is to be looked into.", field="words")
    about = About(
        key=finding.key,
        kind=LASTING,
        record_kind=finding.record_kind,
        record_number=finding.record,
        operation=finding.operation,
        happened_at=finding.at,
        period=open_period(period_of(finding.at)),
        said=finding.sentence,
        difference_ul=finding.difference_ul,
        uncertainty_ul=round(finding.uncertainty_ul),
        in_ul=finding.in_ul,
        basis=finding.basis,
    )
    with turn():
        enquiry = hold(open_about(about, person=person))
        standing = standing_of(enquiry)
        if standing.state == State.WAITING:
            raise Unanswerable(f"{enquiry.number} waits for a second person; have it sent back first.")
        if standing.state not in UNANSWERED:
            add(enquiry, What.FOUND_AGAIN, person=person, text=finding.sentence)
        add(enquiry, What.NOTE, person=person, text=why.strip())
        _cover(enquiry, finding)
    return enquiry


def keep_up(standing: Standing, finding: Finding | None, corrected: str) -> None:
    """Brings an enquiry about what lasts in line with the watch: it grows, goes, comes back, or outlasts its answer."""
    enquiry, state = standing.enquiry, standing.state
    if finding is None:
        if state in UNANSWERED:
            text = f"Put right by the correction of {corrected}." if corrected else "The figures no longer show it."
            add(hold(enquiry), What.PUT_RIGHT if corrected else What.GONE, person=None, text=text, record=corrected)
        return
    if state == State.WAITING:
        return
    if state == State.ANSWERED:
        if not _outlasts(standing, finding):
            return
        add(hold(enquiry), What.FOUND_AGAIN, person=None, text=f"It lasts: {finding.sentence}", record=corrected)
    elif state in (State.PUT_RIGHT, State.GONE):
        add(hold(enquiry), What.FOUND_AGAIN, person=None, text=finding.sentence, record=corrected)
    # Estimated anew without a reason, what is left would be another amount than what was asked for less what was
    # explained: runs that joined and corrections are reasons.
    if corrected or _joined(enquiry, finding):
        _cover(enquiry, finding)


def _outlasts(standing: Standing, finding: Finding) -> bool:
    """Whether an answer does not answer for it any more: more is lost than was explained, or in runs since then."""
    if standing.decided is not None and standing.decided.ending == Ending.LOSS:
        return True
    return _joined(standing.enquiry, finding) >= FEWEST_LASTING


def _joined(enquiry: Enquiry, finding: Finding) -> int:
    """How many runs of the watch it does not cover yet."""
    there = {run.record_number for run in covered(enquiry)}
    return len([run for run in finding.runs if run.record not in there])


def _cover(enquiry: Enquiry, finding: Finding) -> None:
    """Writes down the runs and the amount, where they are not those that stand."""
    there = [(run.record_kind, run.record_number) for run in covered(enquiry)]
    runs = [(run.record_kind, run.record) for run in finding.runs]
    # The figures count what is explained as found; the enquiry is about all of it.
    amount_ul = finding.difference_ul + explained_of(enquiry)
    if there == runs and abs(amount_ul - amount_of(enquiry)) < LEAST_CHANGE:
        return
    ends = " to ".join(dict.fromkeys((finding.runs[0].record, finding.runs[-1].record)))
    text = f"{len(runs)} runs, {ends}: {difference_said(amount_ul)}."
    event = add(hold(enquiry), What.COVERS, person=None, text=text, pure_ul=amount_ul)
    calendar = Calendar.read()
    EnquiryRun.objects.bulk_create(
        EnquiryRun(
            enquiry=enquiry,
            serial=event.serial,
            record_kind=run.record_kind,
            record_number=run.record,
            happened_at=run.at,
            period=calendar.period_of(run.at),
            charge_ul=run.charge_ul,
        )
        for run in finding.runs
    )
