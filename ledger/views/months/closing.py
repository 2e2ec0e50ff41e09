"""Closing a period of account: what stands in the way, who asks, who agrees, what was frozen; and the list of all."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from distillery import signed
from distillery.clock.reading import books_now
from distillery.database.retrying import Busy
from distillery.figures import count, kilograms, lpa, moment
from distillery.pages import CLOSED, ONE_OF_TWO, Cell, Column, Fact, Row, State, Table
from distillery.pages import Kind as Mark
from distillery.pen.trying.again import NotShown, second_of
from distillery.people.models import Person
from distillery.people.roles import CLOSERS, holds, may_write
from distillery.plant.models import Kind
from distillery.printing.furniture import grouped
from ledger.enquiries.compared import behind
from ledger.models import AccountKind
from ledger.periods.calendar import Calendar, NoSuchPeriod, bounds, closing_of, name_of, request_of
from ledger.periods.models import CloseRequest, Closing, ClosingBalance
from ledger.periods.proof import digest_holds
from ledger.periods.readiness import NotReady, next_to_close, not_ready
from ledger.periods.seen import closing_as_seen
from ledger.periods.service import CannotClose, agree, ask, written_since
from ledger.statements.month import known_periods
from ledger.views.enquiries.signing import moved_table
from ledger.views.ways import account_href, books_places

KINDS = [str(kind) for kind in AccountKind]
OPEN = State(Mark.MISSING, "Open")
MUST = State(Mark.OUT, "Settle first")
REMARK = State(Mark.WATCH, "Needs a remark")


class AskForm(forms.Form):
    """Why a period is closed as it stands; the service says when it is missing."""

    use_required_attribute = False
    remark = forms.CharField(
        label="Remark",
        required=False,
        help_text="Why it is closed all the same, where something above needs a remark. It is sealed with the closing.",
        widget=forms.Textarea({"rows": "3", "autocomplete": "off"}),
    )


class AgreeForm(forms.Form):
    """Which request is agreed to: the one that was on the page."""

    request = forms.ModelChoiceField(CloseRequest.objects.all(), widget=forms.HiddenInput())


def close_period(request: HttpRequest, period: str) -> HttpResponse:
    """One period: its state, what stands in the way, and the two steps by which it is closed."""
    try:
        bounds(period)
        name = name_of(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    person = request.user
    assert isinstance(person, Person)
    pending = request_of(period)
    form: forms.Form = _form(person, pending, request.POST if request.method == "POST" else None)
    moved = None
    if request.method == "POST":
        if not may_write(person):
            raise PermissionDenied("A closed period is asked for and agreed to by people who write; you may read it.")
        try:
            if _act(form, period, person, second_of(request), seen=request.POST.get(signed.SEEN, "")):
                messages.success(request, _done(period, name))
                return redirect("close_period", period=period)
        except (CannotClose, Busy, NotShown) as error:
            field = getattr(error, "field", "")
            form.add_error(field if field in form.fields else None, error.sentence)
        except signed.MovedOn as error:
            form.add_error(None, error.sentence)
            moved = moved_table(request.POST, error)
        # Somebody may have asked, or asked again, since the page was made.
        pending = request_of(period)
        if isinstance(form, AgreeForm):
            form = _agreeing_anew(form, pending)
    closing = closing_of(period)
    now = books_now()
    found = [] if closing is not None else not_ready(period, now=now)
    return render(
        request,
        "ledger/close_period.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("books"),
            "period": period,
            "name": name,
            "closing": closing,
            "pending": pending,
            "facts": _facts(period, closing, pending),
            "state": CLOSED if closing is not None else ONE_OF_TWO if pending is not None else OPEN,
            "said": _in_words(name, closing, pending, found),
            "blocks": _blocks(found),
            "being_compared": closing is None and bool(behind(until=period)),
            "moved": moved,
            "seen": signed.carried(closing_as_seen(period, now=now)) if closing is None else None,
            "settled": not any(one.must for one in found),
            "form": form,
            "step": _step(person, closing, pending),
            "frozen": _frozen(closing) if closing is not None else None,
            "digest_holds": closing is not None and digest_holds(closing),
        },
    )


def period_table() -> Table:
    """Periods in which anything happened or that were closed, newest first."""
    calendar = Calendar.read()
    closings = {
        one.period: one for one in Closing.objects.select_related("request__person", "person").order_by("number")
    }
    turn = _turn(calendar)
    codes = sorted({*known_periods(calendar), *closings, *([turn] if turn else [])}, reverse=True)
    return Table(
        caption="Months",
        columns=tuple(
            Column(head) for head in ("Period", "State", "Closed by", "Agreed by", "Closed", "Digest in short")
        ),
        rows=[Row(_period_cells(calendar, code, closings.get(code), turn)) for code in codes],
        empty="Nothing has been posted yet. The first period appears with the first entry.",
        wide=True,
    )


def _period_cells(calendar: Calendar, code: str, closing: Closing | None, turn: str) -> list[Cell]:
    name = Cell(calendar.name_of(code), href=reverse("month", kwargs={"period": code}))
    page = reverse("close_period", kwargs={"period": code})
    if closing is None:
        return [name, Cell("Next to close" if code == turn else "Open", href=page), *(Cell("-") for _ in range(4))]
    return [
        name,
        Cell("Closed", href=page),
        Cell(closing.request.person.shown_name),
        Cell(closing.person.shown_name),
        Cell(moment(closing.agreed_at, year=True)),
        Cell(grouped(closing.digest)),
    ]


def _turn(calendar: Calendar) -> str:
    try:
        return next_to_close(calendar)
    except NoSuchPeriod:
        return ""


def _form(person: Person, pending: CloseRequest | None, data: Any) -> forms.Form:
    if data is not None:
        return AgreeForm(data) if "request" in data else AskForm(data)
    if pending is not None and pending.person_id != person.pk:
        return AgreeForm(initial={"request": pending.pk})
    return AskForm(initial={"remark": pending.remark if pending is not None else ""})


def _agreeing_anew(form: AgreeForm, pending: CloseRequest | None) -> AgreeForm:
    """The form as it was refused, with the request that stands now behind its button."""
    if pending is None:
        return form
    anew = AgreeForm({"request": pending.pk})
    anew.full_clean()
    for sentence in form.non_field_errors():
        anew.add_error(None, sentence)
    return anew


def _act(form: forms.Form, period: str, person: Person, second: Person | None, *, seen: str) -> bool:
    if not form.is_valid():
        return False
    if isinstance(form, AgreeForm):
        agree(form.cleaned_data["request"], person=second or person, seen=seen)
    else:
        ask(period, person=person, remark=form.cleaned_data["remark"], seen=seen)
    return True


def _done(period: str, name: str) -> str:
    if closing_of(period) is not None:
        return f"{name} is closed. What must be put right later is carried by the first open period."
    return f"Asked to close {name}. Another person who is signed on has to agree."


def _step(person: Person, closing: Closing | None, pending: CloseRequest | None) -> str:
    """What this person can do now: 'ask', 'ask again', 'agree', or nothing."""
    if closing is not None or not may_write(person):
        return ""
    if pending is not None and pending.person_id != person.pk:
        return "agree"
    if not holds(person, CLOSERS):
        return ""
    return "ask" if pending is None else "ask again"


def _in_words(name: str, closing: Closing | None, pending: CloseRequest | None, found: list[NotReady]) -> str:
    if closing is not None:
        return f"{name} is closed: nothing is posted into it any more, and what it came to is sealed."
    musts = sum(one.must for one in found)
    if musts:
        things = "1 thing has" if musts == 1 else f"{count(musts)} things have"
        return f"{name} is open, and {things} to be settled before it can be closed."
    if pending is not None:
        return f"{name} is open. {pending.person.shown_name} asked to close it, and another person has to agree."
    if found:
        return f"{name} is open and can be closed with a remark on what is said below."
    return f"{name} is open and ready to be closed."


def _facts(period: str, closing: Closing | None, pending: CloseRequest | None) -> list[Fact]:
    begins, ends = bounds(period)
    facts = [
        Fact("From", moment(begins, year=True)),
        Fact("To", moment(ends, year=True), note="the first moment that no longer belongs to it"),
    ]
    asked = closing.request if closing is not None else pending
    if asked is not None:
        facts.append(Fact("Asked for by", f"{asked.person.shown_name}, {moment(asked.asked_at, year=True)}"))
        if asked.remark:
            facts.append(Fact("Remark", asked.remark))
    if closing is None:
        written = written_since(pending) if pending is not None else 0
        if written:
            facts.append(Fact("Written since", count(written), note="ask again, so that somebody has looked at it"))
        return facts
    last = reverse("movement", kwargs={"number": closing.last_number})
    return [
        *facts,
        Fact("Agreed to by", f"{closing.person.shown_name}, {moment(closing.agreed_at, year=True)}"),
        Fact("Closing", str(closing.number), note="" if closing.period == period else f"of {closing.period}"),
        Fact("Last movement", str(closing.last_number), href=last, note=f"seal {grouped(closing.last_seal)}"),
        Fact("Last seal of the books before it", grouped(closing.books_seal) or "None"),
        Fact("Digest in short", grouped(closing.digest)),
    ]


def _blocks(found: list[NotReady]) -> Table:
    return Table(
        caption="In the way",
        columns=(Column("What"), Column("How it stands"), Column("Go there")),
        rows=[
            Row(
                [
                    Cell(one.sentence),
                    Cell("", state=MUST if one.must else REMARK),
                    Cell(one.text or "-", href=one.href),
                ]
            )
            for one in found
        ],
        empty="Nothing is in the way.",
    )


def _frozen(closing: Closing) -> Table:
    balances = ClosingBalance.objects.filter(closing=closing)
    casks = balances.filter(account__vessel__kind=Kind.CASK).count()
    # What the site held comes first, along the line of the alcohol; then how it came, went and differs.
    shown = sorted(
        balances.exclude(account__vessel__kind=Kind.CASK).select_related("account__vessel"),
        key=lambda row: (
            KINDS.index(row.account.kind),
            row.account.vessel.order if row.account.vessel is not None else 0,
            row.account.code,
        ),
    )
    return Table(
        caption="What the accounts came to",
        note=f"as frozen; {count(casks)} casks are frozen with them and not listed" if casks else "as frozen",
        columns=(
            Column("Account"),
            Column("Kind"),
            Column("Alcohol", numeric=True, unit="LPA"),
            Column("Mass", numeric=True, unit="kg"),
        ),
        rows=[
            Row(
                [
                    Cell(row.account.name[:1].upper() + row.account.name[1:], href=account_href(row.account)),
                    Cell(row.account.get_kind_display()),
                    Cell(lpa(row.pure_ul)),
                    Cell(kilograms(row.mass_g)),
                ]
            )
            for row in shown
        ],
        empty="No account held or had passed anything.",
        wide=True,
    )
