"""The parts of pages: what a person reads, what a screen reader is told, and nothing a strict policy would block.

The rules checked are those of WCAG 2.2 (criteria named at the checks) and of our own page design.
"""

from __future__ import annotations

import pkgutil
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from django import forms
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.template import Context, Template
from django.template.loader import render_to_string
from django.urls import path

from distillery.pages import (
    ESTIMATE,
    LOOK,
    BalanceLine,
    Cell,
    Choice,
    Column,
    Fact,
    Kind,
    Link,
    Row,
    State,
    Table,
    late,
    missing,
)
from distillery.people.models import Person

VOID = {"area", "br", "col", "hr", "img", "input", "link", "meta"}
SHAPES = {"path", "circle"}


def _nowhere(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


# What the scripts and the foot of every page ask.
ASKED = ("server_here", "draft_keep", "check_digest", "print_copy")
AREAS = ("shift", "plant", "warehouse", "bottling", "stores", "books", "records", "site")
urlpatterns = [
    path(f"{name}/", _nowhere, name=name)
    for name in (
        *AREAS,
        *ASKED,
        "bench",
        "find",
        "login",
        "logout",
        "check_digest",
        "own_password",
        "print_copy",
        "screen",
    )
]
urlpatterns += [path(f"{name}/", _nowhere, name=name) for name in ("pen_now", "pen_keep", "pen_lock")]


class Page(HTMLParser):
    """Reads markup, checks that every element is closed in order, and keeps elements and text."""

    def __init__(self, markup: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.text = ""
        self._open: list[str] = []
        self.feed(markup)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in VOID | SHAPES
        self.elements.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data

    def all(self, tag: str, **attributes: str) -> list[dict[str, str]]:
        """The attributes of the elements with this tag and these attributes."""
        wanted = {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()}
        return [found for name, found in self.elements if name == tag and wanted.items() <= found.items()]


def _part(part: str, /, **context: Any) -> Page:
    return Page(render_to_string(f"parts/{part}.html", context))


class Reading(forms.Form):
    strength = forms.FloatField(label="Strength", help_text="At the safe", widget=forms.TextInput())
    method = forms.ChoiceField(
        label="Found by", choices=[("h", "Hydrometer"), ("d", "Meter")], widget=forms.RadioSelect
    )
    witnessed = forms.BooleanField(label="Someone else read it", required=False)
    place = forms.CharField(widget=forms.HiddenInput())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["strength"].unit = "% by volume"  # type: ignore[attr-defined]


def test_a_field_has_its_unit_in_the_label_and_outside_the_box() -> None:
    page = _part("field", field=Reading()["strength"], echo="62.5 % by volume")
    (box,) = page.all("input")
    assert page.all("label", for_=box["id"])
    assert "Strength, in % by volume" in page.text
    assert page.all("span", class_="unit", aria_hidden="true")
    assert "maxlength" not in box
    assert box["type"] == "text"


def test_everything_said_of_a_field_is_tied_to_its_box() -> None:
    page = _part("field", field=Reading({"strength": "strong"})["strength"], echo="not understood")
    (box,) = page.all("input")
    assert box["value"] == "strong"
    assert box["aria-invalid"] == "true"
    ids = {attributes["id"] for _, attributes in page.elements if "id" in attributes}
    assert set(box["aria-describedby"].split()) == {
        "id_strength_helptext",
        "id_strength_echo",
        "id_strength_error",
    }
    assert set(box["aria-describedby"].split()) <= ids


def test_a_set_of_choices_is_a_group_with_a_name() -> None:
    page = _part("field", field=Reading()["method"])
    assert len(page.all("fieldset")) == 1
    assert len(page.all("legend")) == 1
    for radio in page.all("input", type="radio"):
        assert page.all("label", for_=radio["id"])


def test_a_tick_box_and_a_hidden_field() -> None:
    assert len(_part("field", field=Reading()["witnessed"]).all("label", for_="id_witnessed")) == 1
    hidden = _part("field", field=Reading()["place"])
    assert [tag for tag, _ in hidden.elements] == ["input"]


def test_the_summary_names_each_thing_and_leads_to_it() -> None:
    form = Reading({"strength": "strong", "place": "x"})
    form.full_clean()
    form.add_error(None, "The receiver has no remnant figure.")
    page = Page(Template("{% load look %}{% error_summary form nothing %}").render(Context({"form": form})))
    assert "3 things to put right" in page.text
    assert "Strength: Enter a number." in page.text
    assert "The receiver has no remnant figure." in page.text
    whole_form = Page(str(form))
    for link in page.all("a"):
        assert link["href"].startswith("#")
        assert [1 for _, attributes in whole_form.elements if attributes.get("id") == link["href"][1:]]
    assert page.all("div", tabindex="-1")


def test_no_summary_without_errors() -> None:
    for form in (Reading(), Reading({"strength": "62", "method": "h", "place": "x"})):
        shown = Template("{% load look %}{% error_summary form %}").render(Context({"form": form}))
        assert shown.strip() == ""


TABLE = Table(
    caption="Entries",
    columns=[Column("What"), Column("Strength", numeric=True, unit="%"), Column("Balance", numeric=True, unit="LPA")],
    rows=[
        Row(
            [Cell("Run <0398>", href="/runs/398/"), Cell("70.9", struck="71.9", note="a"), Cell("2,007.14", state=LOOK)]
        ),
        Row(
            [
                Cell("Water added", state=late("4 h")),
                Cell("Not taken", state=missing("01:30")),
                Cell("955.80", state=ESTIMATE),
            ]
        ),
    ],
    empty="No entries yet.",
    total=Row([Cell("Total"), Cell("–"), Cell("2,962.94")]),
)


def test_a_table_has_a_caption_and_scopes() -> None:
    """WCAG 1.3.1."""
    page = _part("table", table=TABLE, name="entries")
    assert len(page.all("caption")) == 1
    assert len(page.all("th", scope="col")) == 3
    assert len(page.all("th", scope="row")) == 3
    assert page.all("div", role="region", tabindex="0", aria_labelledby="entries-caption")
    assert page.all("caption", id="entries-caption")
    assert page.all("a", href="/runs/398/")
    assert "Run <0398>" in page.text


def test_a_state_is_a_word_and_a_mark_and_an_edge() -> None:
    """WCAG 1.4.1: colour is never the only sign."""
    page = _part("table", table=TABLE)
    assert page.all("td", class_="numeric state-watch")
    assert len(page.all("svg", aria_hidden="true")) == 3
    for word in ("Look", "Late 4 h", "Missing 01:30", "est", "(955.80)"):
        assert word in page.text
    assert "struck 71.9" in page.text


@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_of_state_can_be_shown(kind: Kind) -> None:
    page = _part("state", state=State(kind, "A word"))
    assert page.text.strip() == "A word"
    assert page.all("span", class_=f"state state-{kind}")


def test_a_row_that_does_not_fit_its_columns_is_a_mistake() -> None:
    table = Table("Entries", [Column("What")], [Row([Cell("a"), Cell("b")])], "None.")
    with pytest.raises(ValueError, match="argument"):
        _part("table", table=table)


def test_an_empty_table_says_what_to_do() -> None:
    page = _part("table", table=Table("Casks", [Column("Cask")], [], "No casks match. Clear the filter."))
    assert "No casks match. Clear the filter." in page.text
    assert page.all("table") == []


def test_the_balance_line_has_seven_figures_in_order() -> None:
    line = BalanceLine(1_530_350_000, 960_470_000, 1_905_000_000, 0, 585_820_000, 584_200_000, -1_620_000, LOOK)
    text = _part("balance_line", line=line).text
    figures = re.findall(r"−?[\d,]+\.\d\d", text)
    assert figures == ["1,530.35", "960.47", "1,905.00", "0.00", "585.82", "584.20", "1.62"]
    assert "1.62 over" in text
    assert "Look" in text


def test_a_balance_line_without_a_measurement_says_so() -> None:
    page = _part("balance_line", line=BalanceLine(0, 0, 0, 0, 0, None, None))
    assert "Not measured" in page.text
    assert "Not known" in page.text


def test_the_other_parts_read_as_they_should() -> None:
    assert "come first" in _part("caution", caution="Carbon dioxide gathers in the washback.").text
    assert _part("caution", caution="").text.strip() == ""
    asked = _part("question", question="Did you mean 62.5?", choices=[Choice("Keep 6.25", "strength", "6.25")])
    assert asked.all("button", name="strength", value="6.25")
    ways = _part("links_both_ways", came_from=[Link("Vat 1", "/vats/1/", "584.20 LPA")], went_to=[])
    assert ways.all("a", href="/vats/1/")
    assert "Nothing yet" in ways.text
    facts = _part("facts", facts=[Fact("Holds", "584.20", unit="LPA", state=LOOK)])
    assert (len(facts.all("dt")), len(facts.all("dd"))) == (1, 1)
    assert _part("pager", older="?before=9").all("a", href="?before=9", rel="next")
    assert _part("pager").text.strip() == ""
    places = _part("place_strip", within="Books", places=[Link("Month", "#", current=True), Link("Losses", "#")])
    assert len(places.all("a", aria_current="page")) == 1


def test_a_chart_without_readings_says_so() -> None:
    page = _part("chart", chart="", caption="Strength against time")
    assert "No readings to draw yet" in page.text


def test_figures_in_running_text() -> None:
    shown = Template(
        "{% load look %}{% figure litres|lpa 'LPA' %} {% figure None %} {{ nothing|lpa }} {{ loss|lpa }}"
    ).render(Context({"litres": 1_289_600_000, "nothing": None, "loss": 1_000_000}))
    assert "1,289.60" in shown
    assert shown.count("not recorded") == 2
    assert shown.endswith("1.00")


def _person(*roles: str) -> Person:
    person = Person(username="isla", first_name="Isla", last_name="Munro")
    person._roles_held = frozenset(roles)  # type: ignore[attr-defined]
    return person


def _page(**context: Any) -> Page:
    return Page(render_to_string("base.html", context))


@pytest.mark.urls(__name__)
def test_the_row_of_areas_is_always_in_the_same_order() -> None:
    page = _page(user=_person("manager"), area="books")
    links = [found["href"] for found in page.all("a") if found["href"].strip("/") in AREAS]
    assert links == [f"/{name}/" for name in AREAS]
    assert [found["href"] for found in page.all("a", aria_current="page")] == ["/books/"]


@pytest.mark.urls(__name__)
@pytest.mark.parametrize(("role", "shown"), [("manager", 1), ("administrator", 1), ("staff", 0), ("officer", 1)])
def test_site_is_for_those_who_look_after_the_plant(role: str, shown: int) -> None:
    assert len(_page(user=_person(role)).all("a", href="/site/")) == shown


@pytest.mark.urls(__name__)
def test_a_page_has_its_landmarks_and_one_heading() -> None:
    """WCAG 1.3.1, 2.4.1, 2.4.2."""
    page = _page(user=_person("staff"))
    assert [len(page.all(tag)) for tag in ("header", "main", "footer", "h1")] == [1, 1, 1, 1]
    assert page.all("nav", aria_label="Areas")
    assert page.all("a", href="#content")
    assert page.all("main", id="content")
    assert page.all("form", role="search", action="/find/")
    assert page.all("form", method="post", action="/logout/")
    assert page.all("div", role="status")
    assert page.all("body", class_="desk")


@pytest.mark.urls(__name__)
def test_a_page_for_nobody_shows_no_ways_in() -> None:
    page = _page(user=AnonymousUser())
    assert page.all("nav") == []
    assert page.all("form") == []


@pytest.mark.urls(__name__)
def test_the_title_says_first_that_there_are_errors() -> None:
    """GOV.UK Design System, Error summary."""
    assert "Error: " in _page(user=_person(), form=Reading({})).text
    assert "Error: " in _page(user=_person(), errors=["one"]).text
    assert "Error: " not in _page(user=_person(), form=Reading()).text


@pytest.mark.urls(__name__)
@pytest.mark.parametrize("name", ["400.html", "403.html", "403_csrf.html", "404.html", "500.html", "507.html"])
def test_a_page_of_trouble_says_what_to_do(name: str) -> None:
    page = Page(render_to_string(name, {"user": _person("staff")}))
    assert len(page.all("h1")) == 1
    assert any(words in page.text for words in ("ask the manager", "Go back", "find box"))


def test_the_page_for_a_broken_program_needs_nothing_to_work() -> None:
    assert Page(render_to_string("500.html")).all("h1")


def test_what_a_template_says_it_is_handed_is_there() -> None:
    said = [
        (path.name, name)
        for path in Path(settings.BASE_DIR, "templates").rglob("*.html")
        for name in re.findall(r"\b(?:batches|distillery|ledger)(?:\.\w+)+", path.read_text(encoding="utf-8"))
        if not name.endswith(".html")
    ]
    assert len(said) > 20
    for template, name in said:
        assert pkgutil.resolve_name(name), (template, name)
