"""Pages of the bench. They are read without signing on, and a result is an address that can be kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from distillery.bench.answer import Answer, GaugeRead
from distillery.bench.boxes import BenchForm
from distillery.bench.pinned_forms import TABLES, TableForm
from distillery.bench.slip import slip_pdf
from distillery.bench.tools import TOOLS
from distillery.pages import Link
from distillery.people.models import Person

# Stands on the first page.
ASKED_MOST: Final = "reading"
# Ways into sheets that are open, told by the floor that has them: a signed-on person, and what was read of a vessel.
OPEN_SHEETS: list[Callable[[Person, GaugeRead], list[Link]]] = []
NOBODY = "someone not signed on"


@login_not_required
@require_safe
def bench(request: HttpRequest) -> HttpResponse:
    """The sum that is asked most, with its boxes; the others stand above as places."""
    form = TOOLS[ASKED_MOST]()
    shown = {"area": "bench", "places": _places("bench"), "form": form, "action": _address(ASKED_MOST)}
    return render(request, "bench/bench.html", shown)


@login_not_required
@require_safe
def tool(request: HttpRequest, name: str) -> HttpResponse:
    """One sum: its form, and the result where the address holds all that it needs."""
    form = _form(request, name)
    complete = form.answer if form.is_bound and form.is_valid() else None
    query = request.GET.urlencode()
    return render(
        request,
        "bench/tool.html",
        {
            "area": "bench",
            "places": _places(name),
            "form": form,
            "answer": complete,
            "slip": f"{reverse('bench_slip', kwargs={'name': name})}?{query}",
            "ways_on": _ways_on(complete) if complete else [],
            "open_sheets": _open_sheets(request, complete) if complete else [],
        },
    )


@login_not_required
@require_safe
def slip(request: HttpRequest, name: str) -> HttpResponse:
    """The same result on paper; where there is none, back to the form that says why."""
    form = _form(request, name)
    if not form.is_valid() or form.answer is None:
        return redirect(f"{_address(name)}?{request.GET.urlencode()}")
    printed = slip_pdf(form, form.answer, printed_at=timezone.now(), printed_by=_printed_by(request))
    return _pdf(printed, f"bench-{name}.pdf")


@login_not_required
@require_safe
def tables(request: HttpRequest) -> HttpResponse:
    """Which tables can be printed."""
    return _tables_page(request, {name: form() for name, form in TABLES.items()})


@login_not_required
@require_safe
def table_pdf(request: HttpRequest, name: str) -> HttpResponse:
    """A table to pin up; a range that cannot be printed comes back with what to put right."""
    if name not in TABLES:
        raise Http404("There is no such table.")
    form = TABLES[name](request.GET)
    if not form.is_valid():
        return _tables_page(request, {other: form if other == name else kind() for other, kind in TABLES.items()})
    printed = form.pdf(printed_at=timezone.now(), printed_by=_printed_by(request))
    return _pdf(printed, f"{name}-table.pdf")


def _tables_page(request: HttpRequest, forms: Mapping[str, TableForm]) -> HttpResponse:
    bound = next((form for form in forms.values() if form.is_bound), None)
    for name, form in forms.items():
        form.auto_id = f"id_{name}_%s"
    return render(
        request,
        "bench/tables.html",
        {"area": "bench", "places": _places("bench_tables"), "forms": list(forms.values()), "form": bound},
    )


def _form(request: HttpRequest, name: str) -> BenchForm:
    if name not in TOOLS:
        raise Http404("There is no such sum at the bench.")
    kind = TOOLS[name]
    return kind(request.GET) if request.GET else kind()


def _address(name: str) -> str:
    return reverse("bench_tool", kwargs={"name": name})


def _places(current: str) -> list[Link]:
    tools = [Link(form.title, _address(name), current=name == current) for name, form in TOOLS.items()]
    return [*tools, Link("Tables to pin up", reverse("bench_tables"), current=current == "bench_tables")]


def _ways_on(answer: Answer) -> list[Link]:
    ways = []
    for carry in answer.carries:
        try:
            address = reverse("record_new", kwargs={"kind": carry.kind})
        except NoReverseMatch:
            continue
        ways.append(Link(carry.text, f"{address}?{urlencode(carry.values)}", note="needs signing on"))
    for following in answer.next_sums:
        ways.append(Link(following.text, f"{_address(following.tool)}?{urlencode(following.values)}"))
    return ways


def _open_sheets(request: HttpRequest, answer: Answer) -> list[Link]:
    """Sheets that are open and wait for a gauge of the vessel that was read."""
    if answer.gauge is None or not isinstance(request.user, Person):
        return []
    return [way for tell in OPEN_SHEETS for way in tell(request.user, answer.gauge)]


def _printed_by(request: HttpRequest) -> str:
    return request.user.shown_name if isinstance(request.user, Person) else NOBODY


def _pdf(printed: bytes, name: str) -> HttpResponse:
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
