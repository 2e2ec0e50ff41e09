"""The seal of a movement: a digest over its whole content and the seal before it.

What is hashed, exactly: the previous seal (64 hexadecimal figures), a line feed, and the movement as one
line of JSON with sorted keys, no spaces, and all characters beyond ASCII escaped. Times are UTC to the
microsecond. The keys are those `Script.line` writes. SHA-256, written in hexadecimal.

The line is made from rows, as a database cursor gives them or as `row_of` takes them from an object. A proof
writes the line of every movement, and rows are quicker than objects. Rows have the columns of `sealed_columns`; the
number of the movement that leads the parts' rows stands in the line once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from json.encoder import encode_basestring_ascii as quoted
from typing import Any

from django.db import models

from distillery.hashing import FIRST_SEAL, canonical, moment_text, seal, utc
from ledger.models import Account, Duty, Figure, Gauge, Leg, MeasuredFlow, Movement
from ledger.proof.sealed_columns import MOVEMENT, PARTS, Row

__all__ = ["FIRST_SEAL", "canonical", "moment_text", "seal", "utc"]

KEPT_TEXTS = 20_000


@dataclass(frozen=True, slots=True)
class Details:
    """What hangs on a movement beside its legs."""

    gauges: list[Gauge] = field(default_factory=list)
    flows: list[MeasuredFlow] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)
    duties: list[Duty] = field(default_factory=list)


def accounts_of(legs: Iterable[Leg], details: Details) -> set[int]:
    """Keys of the accounts a movement names."""
    named = {pk for leg in legs for pk in (leg.account_id, leg.other_id) if pk}
    ends = {pk for one in details.flows for pk in (one.giver_id, one.taker_id)}
    return named | {pk for pk in (*ends, *(one.account_id for one in details.gauges)) if pk}


class Texts(dict[Any, str]):
    """Text by value, for values that come again and again."""

    def __init__(self, write: Callable[[Any], str]) -> None:
        super().__init__()
        self._write = write

    def __missing__(self, value: Any) -> str:
        if len(self) > KEPT_TEXTS:
            self.clear()
        text = self[value] = self._write(value)
        return text


class Script:
    """Writes movements in the one form that is sealed.

    `accounts` must hold every account the rows name, `people` the sign-on name of every person. Raises KeyError for
    one that is not there, ValueError or TypeError for a value that has no place in a movement: SQLite would keep a text
    where a number belongs, and a text with commas and brackets in it could say what several rows say.
    """

    def __init__(self, accounts: Mapping[int, Account], people: Mapping[int, str]) -> None:
        self._codes: dict[int | None, str] = {pk: quoted(account.code) for pk, account in accounts.items()}
        self._codes[None] = "null"
        self._described = {pk: _described(account) for pk, account in accounts.items()}
        self._people: dict[int | None, str] = {pk: quoted(name) for pk, name in people.items()}
        self._people[None] = "null"
        self._named = Texts(self._accounts)
        self._moments = Texts(_moment)
        # Stages, entries, methods, rules: few of each.
        self._words = Texts(quoted)

    def line(
        self,
        movement: Row,
        legs: Sequence[Row],
        gauges: Sequence[Row] = (),
        measures: Sequence[Row] = (),
        figures: Sequence[Row] = (),
        duties: Sequence[Row] = (),
    ) -> str:
        """The movement as one line of JSON; parts in the order in which they are sealed."""
        # What stands behind the columns of a movement or a leg is not sealed.
        codes, moments, words = self._codes, self._moments, self._words
        (
            number,
            kind,
            operation,
            happened,
            written,
            period,
            person,
            second,
            record_kind,
            record_number,
            moment,
            record_digest,
            reason,
            corrects,
            restates,
            slot,
            true_at,
            judged_against,
            judged_ul,
            judged_parts,
        ) = movement[: len(MOVEMENT)]
        named = {row[3] for row in legs}
        named.update([row[4] for row in legs])
        at_moment, of_period = moments[happened], words[period]
        # Most legs stand where their movement does.
        as_movement = f"{at_moment},{of_period}"
        leg_texts = [
            f"[{line:d},{position:d},{codes[account]},{codes[other]},{words[stage]},{words[entry]},"
            f"{as_movement if at == happened and month == period else f'{moments[at]},{words[month]}'},"
            f"{pure:d},{mass:d}]"
            for _, line, position, account, other, stage, entry, at, month, pure, mass, *_ in legs
        ]
        gauge_texts = []
        for (
            _,
            account,
            name,
            role,
            method,
            at,
            position,
            pure,
            mass,
            litres,
            percent,
            uncertainty,
            book,
            rule,
            raw,
            chain,
        ) in gauges:
            named.add(account)
            gauge_texts.append(
                f"[{codes[account]},{words[name]},{words[role]},{words[method]},{moments[at]},{position:d},{pure:d},"
                f"{mass:d},{litres:d},{percent:d},{uncertainty:d},{book:d},{words[rule]},{quoted(raw)},{quoted(chain)}]"
            )
        for row in measures:
            named.update(row[2:4])
        named.discard(None)
        return (
            f'{{"accounts":{self._named[frozenset(named)]},"corrects":{_or_null(corrects)},'
            f'"duties":{self._duties(duties) if duties else "[]"},'
            f'"figures":{self._figures(figures) if figures else "[]"},'
            f'"gauges":[{",".join(gauge_texts)}],"happened_at":{at_moment},'
            f'"judged":[{words[judged_against]},{_or_null(judged_ul)},{words[judged_parts]}],"kind":{words[kind]},'
            f'"legs":[{",".join(leg_texts)}],"measures":{self._measures(measures) if measures else "[]"},'
            f'"number":{number:d},"operation":{words[operation]},"period":{of_period},'
            f'"person":{self._people[person]},"reason":{quoted(reason)},'
            f'"record":[{words[record_kind]},{quoted(record_number)},{words[moment]}],'
            f'"record_digest":{quoted(record_digest)},"restates":{_or_null(restates)},'
            f'"second":{self._people[second]},"slot":{slot:d},"true_at":{moments[true_at] if true_at else "null"},'
            f'"written_at":{moments[written]}}}'
        )

    def line_of(self, movement: Movement, legs: Iterable[Leg], details: Details) -> str:
        """The line of a movement that is at hand as objects."""
        together: tuple[Iterable[models.Model], ...] = (
            legs,
            details.gauges,
            details.flows,
            details.figures,
            details.duties,
        )
        parts = [
            [row_of(one, part.columns) for one in sorted(those, key=lambda one: getattr(one, part.order) or 0)]
            for part, those in zip(PARTS, together, strict=True)
        ]
        return self.line(row_of(movement, MOVEMENT), *parts)

    def _accounts(self, named: frozenset[int]) -> str:
        # In the order of their codes, which are unique.
        return canonical(sorted(self._described[pk] for pk in named))

    def _measures(self, rows: Sequence[Row]) -> str:
        codes = self._codes
        texts = [
            f"[{line:d},{codes[giver]},{codes[taker]},{quoted(name)},{quoted(method)},{pure:d},{mass:d},{litres:d},"
            f"{percent:d},{uncertainty:d},{quoted(rule)},{quoted(raw)},{quoted(chain)}]"
            for _, line, giver, taker, name, method, pure, mass, litres, percent, uncertainty, rule, raw, chain in rows
        ]
        return f"[{','.join(texts)}]"

    def _figures(self, rows: Sequence[Row]) -> str:
        texts = [
            f"[{line:d},{quoted(name)},{quoted(like)},{quoted(beside)},{quoted(hangs_on)},{quoted(unit)},{value:d},"
            f"{_or_null(expected)},{_or_null(spread)},{quoted(parts)}]"
            for _, line, name, like, beside, hangs_on, unit, value, expected, spread, parts in rows
        ]
        return f"[{','.join(texts)}]"

    def _duties(self, rows: Sequence[Row]) -> str:
        texts = [
            f"[{quoted(removal)},{quoted(tax_type)},{litres:d},{percent:d},{pure:d},{_or_null(rate)},{_or_null(pence)},"
            f"{quoted(source)}]"
            for _, removal, tax_type, litres, percent, pure, rate, pence, source in rows
        ]
        return f"[{','.join(texts)}]"


def row_of(one: models.Model, columns: tuple[str, ...]) -> Row:
    """The columns of an object as a row."""
    return [getattr(one, name) for name in columns]


def _or_null(value: int | None) -> str:
    return "null" if value is None else f"{value:d}"


def _moment(value: datetime | str | None) -> str:
    return "null" if value is None else f'"{moment_text(value)}"'


def _described(account: Account) -> list[Any]:
    """What an account is. It is sealed, so that a name, stage or floor changed later no longer fits the seals."""
    return [
        account.code,
        account.kind,
        account.name,
        account.stage,
        account.vessel_id,
        account.floor_zero,
        account.bottle_pure_ul,
    ]
