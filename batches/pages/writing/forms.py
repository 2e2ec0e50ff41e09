"""A sheet as a form: one box for each declared field, in the order and under the headings of the sheet.

The form does not read or refuse what was typed. It hands the text to the recording service and shows the problems
that come back: beside their boxes, and in the same words at the top.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django import forms
from django.http import QueryDict

from batches.pages.writing.boxes import Offers, ShownBox, box
from batches.pages.writing.grid.worked_out import CameTo, Moved, work_out
from batches.pages.writing.ways_out import choices_of
from batches.records import submit_once as sendings
from batches.records.submit_once import SentForm
from batches.sheets.results import Result
from batches.sheets.sheet import Field, Kind, Moment, Problem, Section, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.moments import Unreadable, dated, is_bare_time, is_now, read_moment, with_day_alone
from batches.sheets.typed.read_sheet import read_sheet
from distillery.clock.reading import books_now, books_today, site_day
from distillery.drafts import showing as drafted
from distillery.drafts.keeping import Kept, Which
from distillery.pages import Choice
from distillery.templatetags.look import ErrorItem

BLANK_LINES = 6
MORE_LINES = 6
MOST_LINES = 500
LINE_COUNT = "lines"
LINE_PREFIX = "line"
# In place of the number of a line that is not there yet.
SPARE = "spare"
TOKEN = "sending"


class SentOnce(forms.Form):
    """A form with the token by which the service knows it when it comes a second time."""

    def carry_token(self) -> None:
        """Adds the token; last, so that it stands behind the boxes."""
        self.fields[TOKEN] = forms.CharField(
            required=False, initial=sendings.new_token(), widget=forms.HiddenInput({"autocomplete": "off"})
        )

    def renew_token(self) -> None:
        """Another token, for what is to be written besides what this form has written."""
        self.data = {**dict(self.data.items()), TOKEN: sendings.new_token()}

    def sent(self, values: Mapping[str, str], draft: Which | None = None) -> SentForm | None:
        """The form as it is to be known again, with the draft that goes once it is saved."""
        return sendings.sent_form(str(self.data.get(TOKEN, "")), values, draft=draft)


class SheetForm(forms.Form):
    """Boxes for some fields of a sheet."""

    use_required_attribute = False

    def __init__(self, declared: Iterable[Field], offers: Offers, **more: Any) -> None:
        super().__init__(**more)
        self.declared = tuple(declared)
        # By the name of a field, what may go in its box instead of what was refused.
        self.choices: dict[str, tuple[Choice, ...]] = {}
        for field in self.declared:
            self.fields[field.name] = box(field, offers)
            # On a blank line a default would read as something written.
            if not self.prefix:
                self.fields[field.name].initial = field.default or offers.only(field)

    def shorten(self) -> None:
        """Short labels and nothing under the boxes, for boxes that stand side by side in one line."""
        for field in self.declared:
            self.fields[field.name].label = "Time" if field.kind == Kind.MOMENT else field.short_label
            self.fields[field.name].help_text = ""

    def refuse(self, problem: Problem, name: str) -> None:
        """Puts what is wrong beside a box, and keeps what may go in it instead."""
        self.add_error(name, problem.sentence)
        field = next((one for one in self.declared if one.name == name), None)
        if problem.instead and field is not None:
            self.choices[name] = choices_of(problem, field, self.add_prefix(name))

    def typed(self) -> dict[str, str]:
        """What stands in the boxes; empty ones left out."""
        if not self.is_bound:
            return {}
        self.full_clean()
        return {
            field.name: text
            for field in self.declared
            if (text := str(self.cleaned_data.get(field.name) or "").strip())
        }


class EntryForm:
    """A whole sheet, or what is left to write of it, as it stands on the page."""

    def __init__(
        self,
        sheet: Sheet,
        site: Site,
        *,
        moments: Sequence[Moment],
        posted: QueryDict | None = None,
        initial: Mapping[str, str] | None = None,
        rows: Sequence[Mapping[str, str]] = (),
        suggested: Mapping[str, str] | None = None,
        day: date | None = None,
        kept: Kept | None = None,
    ) -> None:
        self.sheet = sheet
        self.site = site
        self._day = day
        self._moments = {moment.name for moment in moments}
        self._suggested = dict(suggested or {})
        self._initial = dict(initial or {})
        self._rows = tuple(rows)
        offers = Offers(site)
        declared = [one for one in sheet.fields if sheet.moment_of(one.name).name in self._moments]
        self.form = SheetForm(declared, offers, data=posted, initial=self._initial | self._suggested, auto_id="id_%s")
        self.lines: list[SheetForm] = []
        self.has_lines = any(sheet.rows_belong_to(moment) for moment in moments)
        if self.has_lines:
            self.lines = [
                SheetForm(
                    sheet.row_fields,
                    offers,
                    data=posted,
                    initial=self._line_initial(number, rows),
                    prefix=f"{LINE_PREFIX}-{number}",
                )
                for number in range(_line_count(posted, len(rows)))
            ]
        # A line in reserve, for those that are added on the page.
        self.spare = SheetForm(sheet.row_fields, offers, prefix=f"{LINE_PREFIX}-{SPARE}")
        self.whole: list[ErrorItem] = []
        # What the gauges come to, by prefix, and those of each line by its place; once somebody has asked.
        self.came: Mapping[str, CameTo] = {}
        self.came_of_line: Mapping[int, Mapping[str, CameTo]] = {}
        self.moved: Sequence[Moved] = ()
        self.results: Sequence[Result] = ()
        # Numbers of records that have not ended and hold what this sheet names.
        self.in_the_way: list[str] = []
        if kept is not None:
            for form in (self.form, *self.lines):
                drafted.mark(form, kept)

    def _line_initial(self, number: int, rows: Sequence[Mapping[str, str]]) -> dict[str, str]:
        start = f"{LINE_PREFIX}-{number}-"
        suggested = {
            name.removeprefix(start): value for name, value in self._suggested.items() if name.startswith(start)
        }
        return {**(rows[number] if number < len(rows) else {}), **suggested}

    # -- what was typed

    @property
    def typed(self) -> dict[str, str]:
        """The single fields as typed, those left blank too. What 'now' and a bare time mean, is known when saving."""
        typed = self.form.typed()
        return {field.name: typed.get(field.name, "") for field in self.form.declared}

    @property
    def day(self) -> date:
        """The day that a bare time belongs to: of the record that is put right, else today by the books' clock."""
        return self._day or books_today()

    @property
    def values(self) -> dict[str, str]:
        """The single fields, those left blank too; 'now' and a bare time as whole times with their day."""
        return {
            field.name: with_its_day(field, text, self._day)
            for field, text in zip(self.form.declared, self.typed.values(), strict=True)
        }

    @property
    def rows(self) -> list[dict[str, str]]:
        """The lines that have anything in them, as typed."""
        return [typed for line in self.lines if (typed := line.typed())]

    @property
    def suggested(self) -> dict[str, str]:
        """What the address of the page carried into its boxes, by their names on the page."""
        return self._suggested

    @property
    def standing(self) -> dict[str, str]:
        """What stands in the boxes by their names on the page, as a browser would send it."""
        boxes = {bound.html_name: str(bound.value() or "") for form in (self.form, *self.lines) for bound in form}
        return boxes | ({LINE_COUNT: str(len(self.lines))} if self.has_lines else {})

    @property
    def rows_in_place(self) -> list[dict[str, str]]:
        """The same with blank lines in their places, so that what is said of a line names it by its place."""
        return [line.typed() for line in self.lines]

    def stands(self, name: str) -> str:
        """What stands in a box of the sheet, or on the record where the box is not on the page."""
        return str(self.form[name].value() or "").strip() if name in self.form.fields else self._initial.get(name, "")

    def _standing_as_typed(self) -> tuple[dict[str, str], list[dict[str, str]]]:
        typed = {one.name: self.stands(one.name) for one in self.sheet.fields}
        rows = [{one.name: str(line[one.name].value() or "").strip() for one in line.declared} for line in self.lines]
        # Where there are none on the page they were written with an earlier moment and stand on the record.
        return typed, rows if self.has_lines else [dict(one) for one in self._rows]

    def check(self, now: datetime, number: str = "") -> None:
        """Says beside its box what cannot be; what is still blank is nothing wrong yet."""
        typed, rows = self._standing_as_typed()
        problems = read_sheet(
            self.sheet, typed, rows, site=self.site, number=number, day=self.day, now=now, by_itself=True
        ).problems
        lines = self.rows
        self.mark(
            one
            for one in problems
            if (typed if one.row is None else lines[one.row] if one.row < len(lines) else {}).get(one.field)
        )

    def work_out(self, now: datetime, number: str = "") -> None:
        """Works out what the gauges come to, from what stands in the boxes."""
        typed, rows = self._standing_as_typed()
        worked = work_out(self.sheet, typed, rows, site=self.site, now=now, number=number, day=self.day)
        self.came, self.came_of_line, self.moved = worked.gauges, worked.lines, worked.moved
        self.results = worked.results

    def mark(self, problems: Iterable[Problem], at: Mapping[str, str] | None = None) -> None:
        """Puts each problem beside its box; what belongs to no box stands at the top, leading to the place `at` says
        for its field.
        """
        written = [line for line in self.lines if line.typed()] or self.lines
        for problem in problems:
            if problem.in_the_way:
                self.in_the_way.append(problem.in_the_way)
            form = self.form
            if problem.row is not None and problem.row < len(written):
                form = written[problem.row]
            elif problem.field not in form.fields and written and problem.field in written[0].fields:
                form = written[0]
            if problem.field in form.fields:
                form.refuse(problem, problem.field)
            else:
                self.refuse(problem.sentence, (at or {}).get(problem.field, ""))

    @property
    def boxes_of_lines(self) -> dict[str, str]:
        """The boxes of the repeating lines by the place of the line among those written on and the field ('0:tare_kg'),
        as `questions.place_of` says it."""
        written = [line for line in self.lines if line.typed()]
        return {f"{place}:{name}": line.add_prefix(name) for place, line in enumerate(written) for name in line.fields}

    def refuse(self, sentence: str, href: str = "") -> None:
        """Something to put right that belongs to none of the sheet's boxes."""
        self.whole.append(ErrorItem(href=href, text=sentence))

    # -- what the page shows

    @property
    def errors(self) -> list[ErrorItem]:
        """All there is to put right, in page order."""
        items = list(self.whole)
        for form in (self.form, *self.lines):
            if form.is_bound:
                for bound in form:
                    href, choices = f"#{bound.id_for_label}", form.choices.get(bound.name, ())
                    items += [ErrorItem(href=href, text=str(one), choices=choices) for one in bound.errors]
        return items

    @property
    def suggested_boxes(self) -> frozenset[str]:
        """Names of the boxes for which something is suggested."""
        boxes = {bound.html_name for form in (self.form, *self.lines) for bound in form}
        return frozenset(self._suggested.keys() & boxes)

    def put_right(self) -> list[tuple[str, str, ShownBox]]:
        """The boxes for which something is suggested: what each is called, what stands on the record, the box."""
        found = []
        for place, form in enumerate((self.form, *self.lines)):
            for field in form.declared:
                bound = form[field.name]
                if bound.html_name in self._suggested:
                    line = f", {self.sheet.rows.one} on line {place}" if place and self.sheet.rows else ""
                    stood = self._initial.get(field.name, "") if not place else self._stood(place - 1, field.name)
                    found.append((f"{field.label}{line}", stood, self.shown(form, field)))
        return found

    def _stood(self, place: int, name: str) -> str:
        return self._rows[place].get(name, "") if place < len(self._rows) else ""

    def has_moment(self, moment: Moment) -> bool:
        """True where that moment is on the page."""
        return moment.name in self._moments

    def sections_shown(self) -> Iterator[Section]:
        """The sections of what is still to be written."""
        for section in self.sheet.sections:
            if any(one.name in self.form.fields for one in section.fields):
                yield section

    def may_wait(self, moment: str) -> bool:
        """True where what belongs to a moment may be written another time than the rest of the page."""
        return moment != self.sheet.moments[0].name and len(self._moments) > 1 and not self.stands(self._when(moment))

    def _when(self, moment: str) -> str:
        return self.sheet.moment(moment).when

    def shown(self, form: SheetForm, field: Field) -> ShownBox:
        """A box with what is said under it."""
        bound = form[field.name]
        echo = ""
        if bound.html_name in self._suggested:
            place = self.lines.index(form) if form in self.lines else None
            before = self._initial.get(field.name) if place is None else self._stood(place, field.name)
            echo = f"Suggested {self._suggested[bound.html_name]}" + (f"; written {before}." if before else ".")
        elif field.kind == Kind.MOMENT and is_now(str(bound.value() or "")):
            echo = "The moment of saving. Or write 02:10, or the day too."
        return ShownBox(bound, echo)


def with_its_day(field: Field, typed: str, day: date | None = None, now: datetime | None = None) -> str:
    """'now' and a time written without its day as whole times: of `day`, else of today by the books' clock (`now`
    where it was pressed before) or, where that is still to come, of yesterday. Anything else stays as it was typed."""
    if field.kind != Kind.MOMENT or not (is_now(typed) or is_bare_time(typed)):
        return typed
    now = now or books_now()
    try:
        moment = read_moment(field, typed, day=day or site_day(now), now=now)[0]
        return dated(moment) if is_now(typed) else with_day_alone(moment)
    except Unreadable:
        return typed


def _line_count(posted: QueryDict | None, filled: int) -> int:
    if posted is None:
        return filled + BLANK_LINES
    asked = posted.get(LINE_COUNT, "")
    count = int(asked) if asked.isascii() and asked.isdigit() else BLANK_LINES
    return min(max(count + (MORE_LINES if "more" in posted else 0), 1), MOST_LINES)
