"""The digest behind a print: SHA-256 (FIPS 180-4) over the data in a fixed order, worked again by hand here."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import Enum

import pytest
from printed_samples import month_sheet, run_sheet

from distillery.printing.digest import digest_of, plain_data
from distillery.printing.tabled.columns import Column


class Kind(Enum):
    SPIRIT = "spirit"


@dataclass(frozen=True)
class Entry:
    name: str
    pure_ul: int
    when: date


def test_the_digest_can_be_worked_out_without_the_program() -> None:
    text = '{"name":"Cuvée","pure_ul":12,"when":"2026-11-25"}'
    assert digest_of(Entry("Cuvée", 12, date(2026, 11, 25))) == hashlib.sha256(text.encode()).hexdigest()


def test_sha_256_of_the_published_message() -> None:
    # FIPS 180-4 example: SHA-256 of the three letters abc; a text stands in quotation marks here, so both are checked.
    published = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert hashlib.sha256(b"abc").hexdigest() == published
    assert digest_of("abc") == hashlib.sha256(b'"abc"').hexdigest()


def test_every_sort_of_value_has_a_plain_form() -> None:
    moment = datetime(2026, 11, 25, 14, 2, tzinfo=UTC)
    held = {"kind": Kind.SPIRIT, "at": moment, "lpa": Decimal("1.20"), "rows": ((1, None), (True, 0.5))}
    assert plain_data(held) == {
        "kind": "spirit",
        "at": "2026-11-25T14:02:00+00:00",
        "lpa": "1.20",
        "rows": [[1, None], [True, 0.5]],
    }


def test_how_a_figure_is_written_is_no_part_of_it() -> None:
    column = plain_data(Column("Pure alcohol", figure=str))
    assert isinstance(column, dict)
    assert column["label"] == "Pure alcohol"
    assert "figure" not in column


def test_any_figure_changed_changes_it() -> None:
    assert len({digest_of(month_sheet(vessels=count)) for count in range(5)}) == 5
    assert digest_of(run_sheet()) == digest_of(run_sheet())


def test_a_value_without_a_plain_form_is_refused() -> None:
    with pytest.raises(TypeError, match="no plain form"):
        digest_of(object())
