"""Every operation of the sample month: difference, what it is judged against, threshold and uncertainty are the same to
the last digit on list, record, finding, enquiry, JSON and print.

What is expected is worked out here once for each operation: the difference from its legs, the charge from the movement
that is sealed, the threshold from the dated rule. What the uncertainty must be is another test's.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from html import unescape
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db.models import Sum
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from distillery import figures
from distillery.clock.reading import site_day
from distillery.rules.models import ReviewThreshold
from ledger.comparing.model.equations import equations_of, quantities
from ledger.comparing.observations.from_ledger import log_of
from ledger.comparing.unaccounted import (
    THE_BOOK,
    GaugeFound,
    OperationLeft,
    found_at,
    found_by_record,
    found_in_vessel,
    left_by_records,
)
from ledger.enquiries.models import Enquiry
from ledger.models import Account, AccountKind, Gauge, Leg, Movement

PERIOD = "2027-03"
ONE = 1_000_000


@dataclass(frozen=True)
class Wanted:
    """The figures of one operation as every place must write them."""

    left: OperationLeft
    difference: str
    charge: str
    threshold: str
    uncertainty: str


@pytest.fixture
def wanted(loaded_month: Path) -> dict[str, Wanted]:
    numbers = set(
        Movement.objects.operations()
        .filter(period=PERIOD)
        .exclude(judged_against="")
        .values_list("record_number", flat=True)
    )
    found = left_by_records(numbers)
    # A stock take is judged vessel by vessel (below); all else has one difference.
    assert set(found) == {number for number in numbers if not number.startswith("ST")}
    assert len(found) > 70
    return {
        number: Wanted(
            left,
            figures.difference(left.difference_ul),
            figures.lpa(left.charge_ul),
            figures.lpa(left.threshold_ul),
            figures.lpa(2 * left.uncertainty_ul),
        )
        for number, left in found.items()
    }


@pytest.fixture
def counted(loaded_month: Path) -> dict[str, dict[str, GaugeFound]]:
    """What stock takes found, by record and vessel: each is judged vessel by vessel, against the book."""
    stock_takes = Movement.objects.operations().filter(period=PERIOD, judged_against=THE_BOOK)
    numbers = list(stock_takes.values_list("record_number", flat=True).distinct())
    assert numbers
    return {number: {one.vessel: one for one in found_by_record(number)} for number in numbers}


def test_a_stock_take_is_what_its_legs_and_the_book_it_met_say(counted: dict[str, dict[str, GaugeFound]]) -> None:
    for number, found in counted.items():
        legs = Leg.objects.standing().filter(movement__record_number=number, account__kind=AccountKind.DIFFERENCE)
        sums = dict(legs.values_list("account__code").annotate(Sum("pure_ul")).order_by())
        gauges = Gauge.objects.standing().filter(movement__record_number=number)
        for gauge in gauges.select_related("account"):
            vessel = gauge.account.code.removeprefix("vessel:")
            difference_ul = sums.get(f"difference:gauging:{vessel}", 0)
            assert found[vessel].difference_ul == difference_ul, (number, vessel)
            assert found[vessel].book_ul == gauge.pure_ul + difference_ul, (number, vessel)
        assert len(found) == len(gauges) > 4


def test_a_stock_take_is_the_same_for_a_record_a_vessel_and_the_month(
    counted: dict[str, dict[str, GaugeFound]],
) -> None:
    log = log_of(PERIOD)
    values = quantities(log)
    lines = {line.key: line for line in equations_of(log)}
    for found in counted.values():
        for vessel, one in found.items():
            assert found_at(lines[one.key], log, values) == one
            assert found_in_vessel(vessel, one.at, 3)[-1] == one


def test_the_record_of_a_stock_take_its_list_and_its_print_say_them(
    counted: dict[str, dict[str, GaugeFound]], officer, browser_of
) -> None:
    browser: Client = browser_of(officer)
    for number, found in counted.items():
        kind = next(iter(found.values())).record_kind
        asked = reverse("record_list", kwargs={"kind": kind})
        page = browser.get(asked, {"per_page": "200", "month": PERIOD}).content.decode()
        row = next(row for row in re.findall(r"<tr.*?</tr>", page, re.S) if f">{number}<" in row)
        assert figures.difference(sum(one.difference_ul for one in found.values())) in said(row), number
        shown = said(browser.get(reverse("record", kwargs={"kind": kind, "number": number})).content.decode())
        paper = text_of(browser.get(reverse("record_pdf", kwargs={"kind": kind, "number": number})).content)
        names = dict(Account.objects.values_list("code", "name"))
        for vessel, one in found.items():
            name, apart = f"Gauging of {names[f'vessel:{vessel}']}", figures.difference(one.difference_ul)
            unsure = f"Two standard uncertainties {figures.lpa(2 * one.uncertainty_ul)}"
            start = paper.index(f"{name} {apart}")
            assert f"The book {figures.lpa(one.book_ul)}" in paper[start - 90 : start], (number, vessel)
            assert unsure in paper[start:], number
            # On the page the book stands on the line of its gauge.
            start = shown.index(f"{name}: {apart}")
            assert unsure.replace("uncertainties ", "uncertainties: ") in shown[start : start + 90], (number, vessel)
            assert re.search(rf" {vessel} .*? {re.escape(figures.lpa(one.book_ul))}(?![\d.,])", shown), (number, vessel)


def test_they_are_those_of_legs_seal_and_rule(wanted: dict[str, Wanted]) -> None:
    apart = Leg.objects.standing().filter(account__kind=AccountKind.DIFFERENCE)
    apart = apart.exclude(account__code__startswith="difference:gauging:")
    legs = dict(apart.values_list("movement__record_number").annotate(Sum("pure_ul")).order_by())
    for number, one in wanted.items():
        movement = Movement.objects.operations().exclude(judged_against="").get(record_number=number)
        day = site_day(one.left.at)
        rules = ReviewThreshold.objects.filter(operation=movement.operation, vessel="", from_day__lte=day)
        rule = rules.latest("from_day")
        judged_ul = movement.judged_ul or 0
        assert one.left.difference_ul == legs.get(number, 0), number
        assert (one.left.judged_against, one.left.charge_ul) == (movement.judged_against, judged_ul), number
        assert one.left.threshold_ul == max(judged_ul * rule.threshold_millionths // ONE, rule.floor_ul), number


def test_asked_one_by_one_or_all_together_they_are_the_same(wanted: dict[str, Wanted]) -> None:
    for number in sorted(wanted)[::7]:
        assert left_by_records([number])[number] == wanted[number].left


def test_every_record_its_list_and_its_print_say_them(wanted: dict[str, Wanted], officer, browser_of) -> None:
    browser: Client = browser_of(officer)
    lists: dict[str, str] = {}
    for number, one in wanted.items():
        kind = one.left.record_kind
        if kind not in lists:
            asked = reverse("record_list", kwargs={"kind": kind})
            lists[kind] = browser.get(asked, {"per_page": "200", "month": PERIOD}).content.decode()
        row = next(row for row in re.findall(r"<tr.*?</tr>", lists[kind], re.S) if f">{number}<" in row)
        assert one.difference in said(row), number
        page = said(browser.get(reverse("record", kwargs={"kind": kind, "number": number})).content.decode())
        paper = text_of(browser.get(reverse("record_pdf", kwargs={"kind": kind, "number": number})).content)
        against = f"{one.left.judged_against[:1].upper()}{one.left.judged_against[1:]} {one.charge}"
        # The one page of a run has it in its balance line, below the head Charged.
        in_line = re.search(rf"Balance, .*\bCharged\b.* {re.escape(one.charge)} ", paper, re.S)
        assert against in paper or in_line, number
        # Where one vessel gave it all, its figure in the balance line is what it is judged against.
        assert against in page or re.search(rf" {re.escape(one.charge)} \N{{MINUS SIGN}} ", page), number
        for text in (page, paper):
            assert one.difference in text, number
            assert f"Review threshold {one.threshold}" in text, number
            assert f"Two standard uncertainties {one.uncertainty}" in text, number


def test_every_finding_and_enquiry_says_them_on_page_json_and_print(
    wanted: dict[str, Wanted], officer, browser_of
) -> None:
    browser: Client = browser_of(officer)
    out = StringIO()
    call_command("findings", "--period", PERIOD, "--json", stdout=out)
    operations = 0
    for finding in json.loads(out.getvalue()):
        number = finding["key"].removeprefix("operation:")
        if not finding["key"].startswith("operation:") or finding["kind"] not in ("enquiry", "gauge again"):
            continue
        one, operations = wanted[number], operations + 1
        left = one.left
        # JSON keeps the sign: missing positive.
        assert round(finding["difference_lpa"] * ONE) == left.difference_ul
        assert round(finding["threshold_lpa"] * ONE) == left.threshold_ul
        assert round(finding["judged_against_lpa"] * ONE) == left.charge_ul
        assert finding["judged_against"] == left.judged_against
        assert finding["uncertainty_lpa"] == round(left.uncertainty_ul / ONE, 4)
        page = said(
            browser.get(reverse("finding", kwargs={"period": PERIOD, "record": finding["record"]})).content.decode()
        )
        holds(page, one)
        enquiry = Enquiry.objects.filter(key=finding["key"]).first()
        if enquiry is not None:
            named = {"number": enquiry.number}
            holds(said(browser.get(reverse("enquiry", kwargs=named)).content.decode()), one)
            paper = text_of(browser.get(reverse("enquiry_pdf", kwargs=named)).content)
            assert f"Difference in the books {figures.difference(left.difference_ul, 4)}" in paper
            assert f"{one.charge} LPA" in paper
            assert f"Review threshold {one.threshold}" in paper
            assert f"Two standard uncertainties {one.uncertainty}" in paper
    assert operations > 0


def test_no_page_of_them_has_a_difference_with_a_bare_sign(wanted: dict[str, Wanted]) -> None:
    for one in wanted.values():
        assert re.fullmatch(r"0\.00|[\d,]+\.\d\d (missing|over)", one.difference)


def holds(text: str, one: Wanted) -> None:
    for figure in (one.difference, one.charge, f"Review threshold {one.threshold}", one.uncertainty):
        assert figure in text, (one.left.record, figure)


def said(html: str) -> str:
    """The words of a page, without marks between them."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())
