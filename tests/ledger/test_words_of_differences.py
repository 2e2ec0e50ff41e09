"""A difference is said 'missing' or 'over' and bears no sign, in the trail, the loss register and beside a cause.

All figures are made up.
"""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from distillery.plant.models import Stage
from distillery.trail.words import Names, shown
from ledger.comparing.findings.finding import ENQUIRY, Finding
from ledger.comparing.findings.likely import CauseLine, Likely
from ledger.enquiries.models import Enquiry, EnquiryEvent
from ledger.enquiries.opening import About, open_about
from ledger.enquiries.printed import loss_register_pdf
from ledger.enquiries.register import DifferenceLine, Register
from ledger.enquiries.standing import standing_of
from ledger.views.enquiries.finding_parts import likely_table
from ledger.views.lists.losses import DifferenceTable
from ledger.views.months.losses import facts_of_register

from . import plant

LITRE = 1_000_000
SIGNED = re.compile(r"[-+\N{MINUS SIGN}]\s?\d")


@pytest.mark.parametrize(
    ("model", "name", "value", "said"),
    [
        (Enquiry, "difference_ul", 4_500_000, "4.5 L missing"),
        (Enquiry, "difference_ul", -4_500_000, "4.5 L over"),
        (Enquiry, "difference_ul", 0, "0 L"),
        (Enquiry, "uncertainty_ul", 500_000, "0.5 L"),
        (EnquiryEvent, "left_ul", -2_000_000, "2 L over"),
        (EnquiryEvent, "pure_ul", 2_000_000, "2 L missing"),
    ],
)
def test_the_trail_says_which_way(model: type[Enquiry], name: str, value: int, said: str) -> None:
    assert shown(model._meta.get_field(name), value, Names()) == said


@pytest.fixture
def register(db: None) -> Register:
    about = About(
        key="operation:SR1",
        kind="enquiry",
        record_kind="spirit_run",
        record_number="SR1",
        operation="spirit run",
        happened_at=plant.at(0),
        period="2027-03",
        said="9.00 LPA over in this operation.",
    )
    line = DifferenceLine(
        plant.at(0),
        "spirit_run",
        "SR1",
        "spirit run",
        Stage.NEW_SPIRIT,
        -9 * LITRE,
        -4 * LITRE,
        standing_of(open_about(about)),
    )
    return Register("2027-03", (), (), (line,), 2, 7 * LITRE, -3 * LITRE, ())


def test_the_facts_of_the_register_have_no_sign(register: Register) -> None:
    values = {fact.label: fact.text for fact in facts_of_register(register)}
    assert values["Missing, with an enquiry"] == "0.00"
    assert values["Over, with an enquiry"] == "5.00 over"
    assert values["Missing, without an enquiry"] == "7.00 missing"
    assert values["Over, without an enquiry"] == "3.00 over"
    assert values["Difference in the month's account"] == "1.00 over"


def test_its_list_and_its_print_have_none_either(register: Register) -> None:
    explained = DifferenceTable.base_columns["explained"]
    assert explained.written(-4 * LITRE) == "4.00 over"
    pdf = loss_register_pdf(register, printed_at=plant.at(0), printed_by="Ishbel")
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    assert "9.00 over" in text
    assert "4.00 over" in text
    assert "\N{MINUS SIGN}9.00" not in text


def test_what_a_cause_leaves_says_which_way() -> None:
    cause = Likely("the dip is 100 mm short", "SR1", "", "", "", -0.25, "spirit_run")
    finding = Finding(
        ENQUIRY,
        "SR1",
        "spirit_run",
        "spirit run",
        plant.at(0),
        LITRE,
        LITRE,
        0,
        0,
        "",
        lines=(CauseLine((cause,), 9.0, ""),),
    )
    [row] = likely_table(finding).rows
    assert "0.25 over" in [cell.text for cell in row.cells]
    assert not any(SIGNED.search(cell.text) for cell in row.cells)
