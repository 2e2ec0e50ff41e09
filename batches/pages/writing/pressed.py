"""When Save was pressed while the server was away: 'now' and bare times mean that moment, not the one of arrival."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from django.http import QueryDict
from django.utils.dateparse import parse_datetime

from batches.pages.writing.forms import LINE_PREFIX, with_its_day
from batches.sheets.sheet import Field, Kind, Sheet
from batches.sheets.typed.moments import dated, is_now

PRESSED: Final = "pressed"


def at_the_press(posted: QueryDict | None, fields: Iterable[Field]) -> QueryDict | None:
    """The form with its times as they were meant at the press; as it is where it was sent at once.

    The moment is by the books' clock as the page had it, and the same however often the form is sent. One that cannot
    be, because a clock was set meanwhile, is asked about like any other time.
    """
    moment = _pressed(posted)
    if posted is None or moment is None:
        return posted
    times = {field.name: field for field in fields if field.kind == Kind.MOMENT}
    changed = posted.copy()
    for name, text in posted.items():
        field = times.get(name.split("-", 2)[-1] if name.startswith(f"{LINE_PREFIX}-") else name)
        if field is not None:
            changed[name] = dated(moment) if is_now(str(text)) else with_its_day(field, str(text), now=moment)
    return changed


def fields_of(sheet: Sheet) -> tuple[Field, ...]:
    """All fields of a sheet, those of its lines too."""
    return (*sheet.fields, *sheet.row_fields)


def _pressed(posted: QueryDict | None) -> datetime | None:
    try:
        moment = parse_datetime(posted.get(PRESSED, "")) if posted is not None else None
    except ValueError:
        return None
    return moment if moment is not None and moment.tzinfo is not None else None
