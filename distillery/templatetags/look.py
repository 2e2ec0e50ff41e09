"""Tags and filters for the look of pages. They decide nothing; `distillery.figures` writes the figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from typing import Any, NotRequired, TypedDict, TypeVar
from urllib.parse import urlsplit

from django import template
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.forms import BaseForm, BaseFormSet, BoundField
from django.template import Context
from django.template.loader import render_to_string
from django.urls import resolve, reverse
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString

from distillery import figures
from distillery.pages import Cell, Choice, Column, Kind, Link, Row, State
from distillery.people.models import Person
from distillery.people.roles import PLANT_KEEPERS, SITE_READERS, holds, may_open, may_write
from distillery.screens import chosen

register = template.Library()

T = TypeVar("T")

NOT_RECORDED = "not recorded"
PROGRAM = "Gaugebook"

# Characters a box is drawn for; each has its class in forms.css.
BOX_WIDTHS = (4, 8, 12, 20, 40)
FIGURE_WIDTH = 8
TOTAL = ' class="total"'


class ErrorItem(TypedDict):
    """One thing to put right, the box it is in (empty when it belongs to the whole sheet), and its ways out."""

    href: str
    text: str
    choices: NotRequired[Sequence[Choice]]
    links: NotRequired[Sequence[Link]]


def _written(value: T | None, write: Callable[[T], str]) -> str:
    return NOT_RECORDED if value is None else write(value)


@register.filter
def lpa(pure_ul: int | None, places: int = 2) -> str:
    """Litres of pure alcohol from whole microlitres."""
    return _written(pure_ul, lambda value: figures.lpa(value, places))


@register.filter
def difference(pure_ul: int | None, places: int = 2) -> str:
    """A difference in litres of pure alcohol, with the word that says whether it is missing or over."""
    return _written(pure_ul, lambda value: figures.difference(value, places))


@register.filter
def litres(bulk_litres: float | None, places: int = 1) -> str:
    """Litres of liquid."""
    return _written(bulk_litres, lambda value: figures.litres(value, places))


@register.filter
def percent(value: float | None, places: int = 1) -> str:
    """A percentage without its sign."""
    return _written(value, lambda known: figures.percent(known, places))


@register.filter
def celsius(value: float | None, places: int = 1) -> str:
    """Degrees Celsius."""
    return _written(value, lambda known: figures.celsius(known, places))


@register.filter
def kilograms(mass_g: int | None, places: int = 1) -> str:
    """Kilograms from whole grams."""
    return _written(mass_g, lambda value: figures.kilograms(value, places))


@register.filter
def moment(when: datetime | None) -> str:
    """'Wed 25 Nov 02:12'."""
    return _written(when, figures.moment)


@register.filter
def day(when: date | None) -> str:
    """'Wed 25 Nov'."""
    return _written(when, figures.day)


@register.filter
def clock(when: datetime | None) -> str:
    """'02:12'."""
    return _written(when, figures.clock)


@register.filter
def span(length: timedelta | None) -> str:
    """'1 h 40 min'."""
    return _written(length, figures.span)


@register.filter
def writes(person: Person | AnonymousUser | str) -> bool:
    """Whether a person may write; False where a page has no person."""
    return isinstance(person, Person) and may_write(person)


@register.filter
def keeps_plant(person: Person | AnonymousUser | str) -> bool:
    """True when the person looks after people, plant and limits. False where a page knows no person."""
    return not isinstance(person, str) and holds(person, PLANT_KEEPERS)


@register.filter
def reads_site(person: Person | AnonymousUser | str) -> bool:
    """True when the person may read how the site is set up. False where a page knows no person."""
    return not isinstance(person, str) and holds(person, SITE_READERS)


@register.simple_tag
def table_head(columns: Sequence[Column]) -> SafeString:
    """The heads of a table's columns, each with its unit; written here since a record's page has some twenty tables."""
    pieces: list[str] = []
    for column in columns:
        unit = f' <span class="unit">{conditional_escape(column.unit)}</span>' if column.unit else ""
        numeric = ' class="numeric"' if column.numeric else ""
        pieces.append(f'<th scope="col"{numeric}>{conditional_escape(column.label)}{unit}</th>')
    return SafeString("".join(pieces))


@register.simple_tag
def table_rows(rows: Sequence[Row], columns: Sequence[Column]) -> SafeString:
    """The lines of a table, those of sums marked. Raises ValueError as `table_cells`."""
    return SafeString(
        "".join(f"<tr{TOTAL if row.total else ''}>{table_cells(row.cells, columns)}</tr>\n" for row in rows)
    )


@register.simple_tag
def table_cells(cells: Sequence[Cell], columns: Sequence[Column]) -> SafeString:
    """The cells of one line of a table, each under its column; the first names the line.

    Written here and not by a template because a page of a list has some five hundred of them. Raises ValueError where
    cells and columns differ in number.
    """
    pieces: list[str] = []
    for cell, column in zip(cells, columns, strict=True):
        tag = "td" if pieces else "th"
        classes = " ".join(filter(None, ("numeric" * column.numeric, f"state-{cell.state.kind}" if cell.state else "")))
        within = render_to_string("parts/state_within.html", {"state": cell.state}) if cell.state else ""
        text: str = conditional_escape(cell.text)
        if cell.state is not None and cell.state.kind == Kind.ESTIMATE:
            text = f"({text})"
        elif cell.href:
            text = f'<a href="{conditional_escape(cell.href)}">{text}</a>'
        if cell.struck:
            struck = conditional_escape(cell.struck)
            text = f'<del><span class="visually-hidden">struck </span>{struck}</del> {text}'
        if cell.note:
            text = f'{text} <span class="note-mark">{conditional_escape(cell.note)}</span>'
        shown = f"{within} {text}" if column.numeric and within else f"{text} {within}" if within else text
        scope = "" if pieces else ' scope="row"'
        attributes = scope + (f' class="{classes}"' if classes else "")
        pieces.append(f"<{tag}{attributes}>{shown}</{tag}>")
    return SafeString("".join(pieces))


@register.simple_tag(takes_context=True)
def name_of_site(context: Context) -> str:
    """The site's name as it is in force today, since the sign-on page is given another `site_name`.

    A page of trouble that is made without a request bears the name that the program was started with, or its own.
    """
    site = context.get("of_site")
    return str(settings.SITE_NAME or PROGRAM if site is None else site.name)


@register.simple_tag
def figure(value: object, unit: str = "") -> SafeString:
    """A figure already written, with its unit, never parted at a line's end; None says 'not recorded'."""
    if value is None:
        return format_html('<span class="soft">{}</span>', NOT_RECORDED)
    if not unit:
        return format_html('<span class="figure">{}</span>', value)
    return format_html('<span class="figure">{} <span class="unit">{}</span></span>', value, unit)


@register.simple_tag(takes_context=True)
def nav_link(context: Context, name: str, text: str) -> SafeString:
    """A link of the row of areas; the one named by `area` in the context is marked as the present one."""
    current = SafeString(' aria-current="page"') if context.get("area") == name else ""
    return format_html('<a href="{}"{}>{}</a>', reverse(name), current, text)


@register.simple_tag(takes_context=True)
def open_places(context: Context, places: Sequence[Link]) -> list[Link]:
    """Those of the places that the person at the page may open."""
    person = context.get("user")
    if not isinstance(person, Person):
        return list(places)
    return [one for one in places if may_open(person, resolve(urlsplit(one.href).path).func)]


@register.simple_tag(takes_context=True)
def theme(context: Context) -> str:
    """'day' or 'night', as this PC was told."""
    return chosen.theme_of(context.get("request"))


@register.simple_tag(takes_context=True)
def theme_presses(context: Context) -> list[chosen.Press]:
    """The buttons for day and night."""
    return chosen.theme_presses(context.get("request"))


@register.simple_tag(takes_context=True)
def density(context: Context) -> str:
    """How large the page stands: as this PC was told for its area, else as the page asks."""
    return chosen.density_of(context.get("request"), *_area_and_usual(context))


@register.simple_tag(takes_context=True)
def density_presses(context: Context) -> list[chosen.Press]:
    """The buttons for the densities that the area of the page has."""
    return chosen.density_presses(context.get("request"), *_area_and_usual(context))


@register.simple_tag(takes_context=True)
def this_page(context: Context) -> str:
    """The address of the page, to come back to."""
    return chosen.page_of(context.get("request"))


def _area_and_usual(context: Context) -> tuple[str, str]:
    return str(context.get("area") or ""), str(context.get("density") or chosen.DESK)


@register.inclusion_tag("parts/state.html")
def state(kind: str, word: str) -> dict[str, State]:
    """A state in running text: `{% state "watch" "Look" %}`."""
    return {"state": State(Kind(kind), word)}


@register.simple_tag
def control(field: BoundField, echo: str = "") -> SafeString:
    """The box of a field, told what describes it (help, what is beside it, echo, error) and how wide its answer is."""
    widget = field.field.widget
    own = widget.attrs.get("aria-describedby")
    described_by = [own] if own else []
    if field.help_text:
        described_by.append(f"{field.auto_id}_helptext")
    if getattr(field.field, "beside", ""):
        described_by.append(f"{field.auto_id}_beside")
    if echo:
        described_by.append(f"{field.auto_id}_echo")
    if getattr(field.field, "draft", ""):
        described_by.append(f"{field.auto_id}_draft")
    if field.errors:
        described_by.append(f"{field.auto_id}_error")
    attrs: dict[str, Any] = {}
    if described_by and not field.use_fieldset:
        attrs["aria-describedby"] = " ".join(described_by)
    width = getattr(field.field, "width", FIGURE_WIDTH if getattr(field.field, "unit", "") else None)
    if width:
        fitting = next((drawn for drawn in BOX_WIDTHS if drawn >= width), BOX_WIDTHS[-1])
        attrs["class"] = f"{widget.attrs.get('class', '')} width-{fitting}".strip()
    return field.as_widget(attrs=attrs)


@register.inclusion_tag("parts/error_summary.html")
def error_summary(*forms: BaseForm | BaseFormSet[Any] | str) -> dict[str, list[ErrorItem]]:
    """All there is to put right in the forms of a page: in page order, in the words beside the boxes.

    A name the page does not know arrives as an empty text and counts for nothing.
    """
    return {"items": [item for form in forms if not isinstance(form, str) for item in _items(form)]}


def _items(form: BaseForm | BaseFormSet[Any]) -> list[ErrorItem]:
    if not form.is_bound:
        return []
    if isinstance(form, BaseFormSet):
        of_the_whole = [ErrorItem(href="", text=str(error)) for error in form.non_form_errors()]
        return of_the_whole + [item for one in form.forms for item in _items(one)]
    found = [ErrorItem(href="", text=str(error)) for error in form.non_field_errors()]
    choices = getattr(form, "choices", {})
    for field in form:
        # A set of radio buttons has no box of its own: the link goes to the first of them.
        box = f"{field.auto_id}_0" if field.use_fieldset else field.id_for_label or field.auto_id
        href = "" if field.is_hidden else f"#{box}"
        for error in field.errors:
            text = _naming(str(field.label), str(error))
            found.append(ErrorItem(href=href, text=text, choices=choices.get(field.name, ())))
    return found


def _naming(label: str, error: str) -> str:
    # Beside its box a sentence needs no name; in the list at the top it does.
    return error if label.lower() in error.lower() else f"{label}: {error}"
