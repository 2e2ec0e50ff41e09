"""Pages of a list without counting it: by the key of the last row seen, so that long lists cost what short ones do.

The key of a row is what the list is ordered by, and its primary key. The last page is the first one of the reversed
order. A key that cannot be read is no page of the list.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.db.models import Field, Model, Q, QuerySet
from django.utils import timezone

from distillery.years import is_of_a_site

PER_PAGE: Final = 50
MOST_PER_PAGE: Final = 200
LONGEST_KEY: Final = 500
LARGEST_WHOLE: Final = 2**63 - 1


class NoSuchKey(ValueError):
    """The text is no key of this list."""


@dataclass(frozen=True, slots=True)
class Page:
    """The rows of one page, and the keys of the pages beside it; empty where there is none."""

    object_list: list[Any]
    before: str
    after: str
    # Pages of a list in memory go by number, those of a query by key.
    numbered: bool = False


def key_page(
    rows: QuerySet[Any], *, after: str = "", before: str = "", last: bool = False, size: int = PER_PAGE
) -> Page:
    """One page of an ordered query: the first, the last, or the one after or before a key.

    Raises NoSuchKey for a key that was not made here. Fields it is ordered by must not hold null.
    """
    order = order_of(rows)
    rows = rows.order_by(*order)
    if last or before:
        if before:
            rows = rows.filter(_beyond(rows.model, [_turned(one) for one in order], before))
        found = list(rows.order_by(*[_turned(one) for one in order])[: size + 1])
        has_before, has_after = len(found) > size, not last
        found = found[:size][::-1]
    else:
        if after:
            rows = rows.filter(_beyond(rows.model, order, after))
        found = list(rows[: size + 1])
        has_before, has_after = bool(after), len(found) > size
        found = found[:size]
    return Page(
        found,
        before=key_of(found[0], order) if found and has_before else "",
        after=key_of(found[-1], order) if found and has_after else "",
    )


def order_of(rows: QuerySet[Any]) -> list[str]:
    """What a query is ordered by, made definite by the primary key."""
    order = [str(one) for one in rows.query.order_by]
    if not order:
        return ["pk"]
    if order[-1].lstrip("-") in ("pk", "id", rows.model._meta.pk.name):
        return order
    return [*order, "-pk" if order[0].startswith("-") else "pk"]


def key_of(row: Any, order: Sequence[str]) -> str:
    """The place of a row in an order, as text for an address."""
    values = []
    for name in order:
        value = row
        for step in name.lstrip("-").split("__"):
            value = getattr(value, step)
        values.append(value.isoformat() if isinstance(value, date) else value)
    return json.dumps(values, separators=(",", ":"))


def _turned(name: str) -> str:
    return name[1:] if name.startswith("-") else f"-{name}"


def _beyond(model: type[Model], order: Sequence[str], key: str) -> Q:
    values = _read(model, order, key)
    beyond, same = Q(), Q()
    for name, value in zip(order, values, strict=True):
        bare, further = name.lstrip("-"), "lt" if name.startswith("-") else "gt"
        beyond |= same & Q(**{f"{bare}__{further}": value})
        same &= Q(**{bare: value})
    # Said once more of the first field alone, so that a database goes to its place in the index at once.
    first, further = order[0].lstrip("-"), "lte" if order[0].startswith("-") else "gte"
    return Q(**{f"{first}__{further}": values[0]}) & beyond


def _read(model: type[Model], order: Sequence[str], key: str) -> list[Any]:
    wrong = NoSuchKey("That is no place in this list.")
    try:
        texts = json.loads(key) if len(key) <= LONGEST_KEY else None
    except (ValueError, RecursionError) as error:
        raise wrong from error
    if not isinstance(texts, list) or len(texts) != len(order):
        raise wrong
    values = []
    for name, text in zip(order, texts, strict=True):
        if not isinstance(text, str | int) or (isinstance(text, str) and "\x00" in text):
            raise wrong
        try:
            value = _field(model, name.lstrip("-")).to_python(text)
        except (ValidationError, ValueError, TypeError, OverflowError) as error:
            raise wrong from error
        if isinstance(value, datetime) and not (timezone.is_aware(value) and is_of_a_site(value)):
            raise wrong
        if isinstance(value, int) and abs(value) > LARGEST_WHOLE:
            raise wrong
        values.append(value)
    return values


def _field(model: type[Model], path: str) -> Field[Any, Any]:
    *steps, last = path.split("__")
    for step in steps:
        related = model._meta.get_field(step).related_model
        assert isinstance(related, type), f"{path} leads through no other table"
        model = related
    found = model._meta.pk if last == "pk" else model._meta.get_field(last)
    if not isinstance(found, Field):
        raise FieldDoesNotExist(f"{path} is no column to order by")
    return found
