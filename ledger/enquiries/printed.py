"""An enquiry and the loss register on paper: hands their parts to the printing room."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q

from distillery.figures import difference_said
from distillery.plant.models import MICRO
from distillery.printing.document import Part, print_document
from distillery.printing.documents import enquiry as paper
from distillery.printing.documents import loss_register as register_paper
from distillery.printing.furniture import Impression
from distillery.printing.house import impression, site
from ledger.comparing.findings.finding import Finding
from ledger.enquiries.balance import open_of
from ledger.enquiries.covering import covered
from ledger.enquiries.figures_now import figures_now, is_about_a_figure
from ledger.enquiries.finding_of import look_at
from ledger.enquiries.models import Ending, Enquiry, EnquiryEvent, What
from ledger.enquiries.register import Register
from ledger.enquiries.standing import UNANSWERED, Standing, history
from ledger.models import Gauge
from ledger.statements.month import bounds
from ledger.words_of_columns import words_of

PROGRAM = "the program"


def enquiry_pdf(standing: Standing, *, printed_at: datetime, printed_by: str) -> bytes:
    """The printed enquiry: what it is about, what was measured, what was done, how it ended and by whom."""
    return print_document([enquiry_part(standing, impression(printed_at, printed_by))])


def enquiry_part(standing: Standing, printing: Impression) -> Part:
    """The enquiry as a part of a document."""
    return paper.enquiry_part(_enquiry_sheet(standing), printing, unanswered=standing.state in UNANSWERED)


def _enquiry_sheet(standing: Standing) -> paper.EnquirySheet:
    enquiry, events = standing.enquiry, history(standing.enquiry)
    looked, runs = look_at(enquiry), covered(enquiry)
    records = Q(movement__record_kind=enquiry.record_kind, movement__record_number=enquiry.record_number)
    for run in runs:
        records |= Q(movement__record_kind=run.record_kind, movement__record_number=run.record_number)
    gauges = (
        Gauge.objects.standing()
        .filter(records)
        .select_related("account", "movement")
        .order_by("happened_at", "position")
    )
    return paper.EnquirySheet(
        site=site(),
        number=enquiry.number,
        state=standing.in_words,
        record=", ".join(run.record_number for run in runs) or enquiry.record_number,
        operation=enquiry.operation,
        happened_at=enquiry.happened_at,
        opened_at=enquiry.opened_at,
        opened_by=enquiry.opened_by.shown_name if enquiry.opened_by else PROGRAM,
        said=enquiry.said,
        beside_usual=_beside_usual(looked.finding),
        difference=None if is_about_a_figure(enquiry) else _difference(enquiry),
        measured=tuple(
            paper.MeasuredLine(
                one.happened_at,
                one.account.name,
                words_of(one.movement.record_kind, one.name).label,
                one.litres20_ul,
                one.percent20_millionths / MICRO,
                one.pure_ul,
                2 * one.uncertainty_ul,
            )
            for one in gauges
        ),
        causes=tuple(
            paper.CauseLine(
                one.cause,
                one.record,
                words_of(one.record_kind, one.field).label if one.field else "",
                one.written,
                one.would_be,
            )
            for one in (looked.finding.likely if looked.finding else ())
        ),
        not_seen=" ".join([*looked.not_compared, *([looked.not_seen.sentence] if looked.not_seen else [])]),
        answer=_answer(standing.decided) if standing.decided is not None and standing.decided.ending else None,
        done=tuple(
            paper.DoneLine(one.at, What(one.what).label, _words(one), one.person.shown_name if one.person else PROGRAM)
            for one in events
        ),
    )


def _beside_usual(finding: Finding | None) -> tuple[paper.FigureLine, ...]:
    """The finding's own figures, where it is about one that is no alcohol."""
    one = finding.beside_usual if finding is not None else None
    return tuple(paper.FigureLine(name, figure, one.unit) for name, figure in one.said) if one is not None else ()


def _difference(enquiry: Enquiry) -> paper.DifferenceLines:
    """What the books differ by, judged as of now; as it was opened where nothing stands behind it any more."""
    left, now = open_of(enquiry), figures_now(enquiry)
    return paper.DifferenceLines(
        difference_ul=left.left_ul,
        explained_ul=left.explained_ul,
        judged_against=now.judged_against if now else "",
        charge_ul=now.charge_ul if now else 0,
        threshold_ul=now.threshold_ul if now else enquiry.threshold_ul,
        uncertainty_ul=now.uncertainty_ul if now else enquiry.uncertainty_ul,
        basis=now.basis if now else enquiry.basis,
    )


def _answer(event: EnquiryEvent) -> paper.Answer:
    movement = event.movement
    first = movement.person.shown_name if movement is not None else ""
    return paper.Answer(
        ending=Ending(event.ending).label,
        agreed=event.what == What.AGREED,
        cause=event.cause,
        checked=event.checked,
        reason=event.text,
        lost_at=event.happened_at,
        product=event.product,
        pure_ul=event.pure_ul,
        percent=None if event.percent_millionths is None else event.percent_millionths / MICRO,
        movement=movement.pk if movement is not None else None,
        first=first,
        second=event.person.shown_name if event.what == What.AGREED and event.person else "",
        decides=event.ending == Ending.NOT_FOUND,
        set_off=_set_off(event),
    )


def _set_off(event: EnquiryEvent) -> str:
    """The enquiry on the other side, with what is open there; '' for any other ending."""
    other = event.other
    if other is None:
        return ""
    return f"{other.number}, {other.operation} {other.record_number}: {difference_said(open_of(other).open_ul, 4)}"


def _words(event: EnquiryEvent) -> str:
    ending = f"{Ending(event.ending).label}. " if event.ending and event.what in (What.PROPOSED, What.AGREED) else ""
    checked = f" Checked: {event.checked}" if event.checked and event.what == What.PROPOSED else ""
    return f"{ending}{event.text}{checked}".strip()


def loss_register_pdf(register: Register, *, printed_at: datetime, printed_by: str) -> bytes:
    """The printed register of a month."""
    return register_paper.loss_register_pdf(_register_sheet(register), impression(printed_at, printed_by))


def loss_register_part(register: Register, printing: Impression) -> Part:
    """The register of a month as a part of a document."""
    return register_paper.loss_register_part(_register_sheet(register), printing)


def _register_sheet(register: Register) -> register_paper.LossRegisterSheet:
    lines = [
        register_paper.LossLine(
            at=line.at,
            record=line.record,
            operation=line.operation,
            cause=line.cause,
            product=line.product,
            litres20=line.litres20,
            percent20=line.percent20,
            pure_ul=line.pure_ul,
            reason=line.reason,
            persons=" and ".join(line.persons),
        )
        for line in (*register.losses, *register.gains)
    ]
    return register_paper.LossRegisterSheet(
        site=site(),
        number=f"LR-{register.period}",
        month=bounds(register.period)[0].date(),
        causes=tuple(register_paper.Sum(*one) for one in register.by_cause()),
        stages=tuple(register_paper.Sum(*one) for one in register.by_stage()),
        losses=tuple(line for line in lines if line.pure_ul > 0),
        gains=tuple(line for line in lines if line.pure_ul < 0),
        differences=tuple(
            register_paper.DifferenceLine(
                one.at,
                one.record,
                one.operation,
                one.stage,
                one.left_ul,
                one.explained_ul,
                one.standing.enquiry.number,
                one.standing.in_words,
            )
            for one in register.differences
        ),
        within_count=register.within_count,
        within_missing_ul=register.within_missing_ul,
        within_extra_ul=register.within_extra_ul,
        difference_ul=register.difference_ul,
        undecided=tuple(one.enquiry.number for one in register.not_found),
    )
