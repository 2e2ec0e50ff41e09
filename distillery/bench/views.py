"""Pages of the bench. They are read without signing on, and a result is an address that can be kept."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from distillery.bench.answer import Answer
from distillery.bench.boxes import BenchForm
from distillery.bench.pinned_forms import TABLES, TableForm
from distillery.bench.slip import slip_pdf
from distillery.bench.tools import TOOLS
from distillery.pages import Link
from distillery.people.models import Person

NOBODY = "someone not signed on"


@login_not_required
@require_safe
def bench(request: HttpRequest) -> HttpResponse:
    """The sums there are."""
    return render(request, "bench/bench.html", {"places": _places("bench"), "tools": _tool_links(), "area": "bench"})


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
        },
    )


@login_not_required
@require_safe
def slip(request: HttpRequest, name: str) -> HttpResponse:
    """The same result on paper; where there is none, back to the form that says why."""
    form = _form(request, name)
    if not form.is_valid() or form.answer is None:
        return redirect(f"{reverse('bench_tool', kwargs={'name': name})}?{request.GET.urlencode()}")
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


def _tool_links() -> list[Link]:
    return [Link(form.title, reverse("bench_tool", kwargs={"name": name})) for name, form in TOOLS.items()]


def _places(current: str) -> list[Link]:
    tools = [
        Link(form.title, reverse("bench_tool", kwargs={"name": name}), current=name == current)
        for name, form in TOOLS.items()
    ]
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
        address = reverse("bench_tool", kwargs={"name": following.tool})
        ways.append(Link(following.text, f"{address}?{urlencode(following.values)}"))
    return ways


def _printed_by(request: HttpRequest) -> str:
    return request.user.shown_name if isinstance(request.user, Person) else NOBODY


def _pdf(printed: bytes, name: str) -> HttpResponse:
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
