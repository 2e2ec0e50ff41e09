"""Two people on one record, each at a browser: both keep what they typed, both see what the other wrote, and the one
who saves second chooses box by box. The site is invented."""

from __future__ import annotations

import html
import re

import pytest
from small_site import CASKS, CHARGE, FILL, FINISH, charged_run, fill

from batches.models import Version
from batches.records import recording
from batches.records.merging import differences, flat, together, unflat
from batches.records.recording import MovedOn
from batches.steps import sheet_of
from ledger.models import Movement

pytestmark = pytest.mark.django_db


def boxes(page: str) -> dict[str, str]:
    """What would be sent if Save were pressed: every box and hidden field of the sheet."""
    form = page[page.index('id="sheet"') :]
    found = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        if name:
            found[name[1]] = html.unescape(value[1]) if value else ""
    for name, inner in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'<option value="([^"]*)" selected', inner)
        found[name] = html.unescape(chosen[1]) if chosen else ""
    return found


def rows_of(page: str) -> dict[str, list[str]]:
    """The table of what differs: label to what stood at first, what is yours, what is theirs."""
    table = page[page.index('id="meanwhile"') :].partition("</table>")[0]
    rows = re.findall(r'<th scope="row">(.*?)</th>(.*?)</tr>', table, re.DOTALL)
    text = {
        re.sub(r"<[^>]+>", "", label).strip(): [
            re.sub(r"\s*Take (yours|theirs).*", "", re.sub(r"<[^>]+>", "", cell).strip(), flags=re.DOTALL)
            for cell in re.findall(r"<td>(.*?)</td>", cells, re.DOTALL)
        ]
        for label, cells in rows
    }
    return text


def stands(record) -> dict[str, str]:
    version = Version.objects.filter(record=record).latest("serial")
    sheet = sheet_of(record.kind)
    from batches.records.versions import typed_of

    return flat(sheet, *typed_of(version))


def test_two_corrections_of_different_boxes_both_stand(site, manager, browser_of):
    record = fill(site)
    address = f"/records/cask_fill/{record.number}/correct/"
    one, two = browser_of(site), browser_of(manager)
    first, second = boxes(one.get(address).content.decode()), boxes(two.get(address).content.decode())
    one.post(address, first | {"vat_after_dip_mm": "900", "reason": "misread the rod"})
    mine = second | {"line-1-gross_kg": "230.5", "reason": "scale read again"}
    page = two.post(address, mine).content.decode()
    assert "Nothing of yours was saved, and nothing is lost" in page
    assert "test-staff wrote on this record" in page
    assert Version.objects.filter(record=record).count() == 2
    assert rows_of(page) == {"Vat after: dip": ["899", "899", "900"]}
    shown = boxes(page)
    assert (shown["vat_after_dip_mm"], shown["line-1-gross_kg"]) == ("900", "230.5")
    assert shown["reason"] == "scale read again"
    assert two.post(address, shown).status_code == 302
    now = stands(record)
    assert (now["vat_after_dip_mm"], now["c002|gross_kg"]) == ("900", "230.5")
    assert Version.objects.filter(record=record).count() == 3


def test_two_corrections_of_one_box_are_for_the_second_to_choose(site, manager, browser_of):
    record = fill(site)
    address = f"/records/cask_fill/{record.number}/correct/"
    one, two = browser_of(site), browser_of(manager)
    first, second = boxes(one.get(address).content.decode()), boxes(two.get(address).content.decode())
    one.post(address, first | {"vat_after_dip_mm": "900", "line-0-gross_kg": "229.5", "reason": "misread"})
    mine = second | {"vat_after_dip_mm": "902", "line-0-gross_kg": "229.9", "reason": "misread too"}
    page = two.post(address, mine).content.decode()
    differ = rows_of(page)
    assert differ["Vat after: dip"] == ["899", "902", "900"]
    assert ["229.1", "229.9", "229.5"] in differ.values()
    shown = boxes(page)
    # The boxes keep the writer's own words until the writer chooses.
    assert (shown["vat_after_dip_mm"], shown["line-0-gross_kg"]) == ("902", "229.9")
    page = two.post(address, shown | {"take": "theirs:vat_after_dip_mm"}).content.decode()
    shown = boxes(page)
    assert (shown["vat_after_dip_mm"], shown["line-0-gross_kg"], shown["reason"]) == ("900", "229.9", "misread too")
    assert rows_of(page)["Vat after: dip"] == ["899", "902", "900"]
    shown = boxes(two.post(address, shown | {"take": "theirs:c001|gross_kg"}).content.decode())
    assert shown["line-0-gross_kg"] == "229.5"
    shown = boxes(two.post(address, shown | {"take": "yours:c001|gross_kg"}).content.decode())
    assert shown["line-0-gross_kg"] == "229.9"
    assert Version.objects.filter(record=record).count() == 2
    assert two.post(address, shown).status_code == 302
    now = stands(record)
    assert (now["vat_after_dip_mm"], now["c001|gross_kg"]) == ("900", "229.9")


def test_a_mistake_or_more_lines_after_that_lose_neither_what_differs_nor_the_version(site, manager, browser_of):
    record = fill(site)
    address = f"/records/cask_fill/{record.number}/correct/"
    two = browser_of(manager)
    second = boxes(two.get(address).content.decode())
    recording.correct(record, {"vat_after_dip_mm": "900"}, person=site, reason="misread")
    shown = boxes(two.post(address, second | {"vat_after_dip_mm": "902", "reason": "too"}).content.decode())
    more = two.post(address, shown | {"more": "1"}).content.decode()
    assert rows_of(more)["Vat after: dip"] == ["899", "902", "900"]
    wrong = two.post(address, boxes(more) | {"vat_after_dip_mm": "99999"}).content.decode()
    assert rows_of(wrong)["Vat after: dip"] == ["899", "902", "900"]
    # A third person writes before the second has chosen.
    recording.correct(record, {"vat_after_dip_mm": "901"}, person=site, reason="read by two")
    again = two.post(address, boxes(wrong) | {"vat_after_dip_mm": "902"}).content.decode()
    assert rows_of(again)["Vat after: dip"] == ["900", "902", "901"]
    assert Version.objects.filter(record=record).count() == 3


def test_the_version_of_an_old_page_is_not_renewed_by_asking_for_more_lines(site, manager, browser_of):
    record = fill(site)
    address = f"/records/cask_fill/{record.number}/correct/"
    here = browser_of(manager)
    old = boxes(here.get(address).content.decode())
    recording.correct(record, {"vat_after_dip_mm": "900"}, person=site, reason="misread")
    more = boxes(here.post(address, old | {"more": "1"}).content.decode())
    assert more["version"] == "1"
    mine = more | {"line-0-gross_kg": "229.5", "reason": "scale read again"}
    assert "Nothing of yours was saved" in here.post(address, mine).content.decode()


def test_a_button_of_a_page_that_shows_nothing_beside_saves_nothing(site, browser_of):
    record = fill(site)
    address = f"/records/cask_fill/{record.number}/correct/"
    here = browser_of(site)
    mine = boxes(here.get(address).content.decode()) | {"vat_after_dip_mm": "900", "reason": "misread"}
    for more in ({"take": "theirs:vat_after_dip_mm"}, {"take": "x", "opened": "99"}, {"take": "", "opened": "soon"}):
        assert boxes(here.post(address, mine | more).content.decode())["vat_after_dip_mm"] == "900"
    assert Version.objects.filter(record=record).count() == 1


def test_a_run_finished_by_somebody_else_is_compared_and_put_right_from_the_same_page(site, manager, browser_of):
    record = charged_run(site)
    address = f"/records/spirit_run/{record.number}/"
    two = browser_of(manager)
    mine = boxes(two.get(f"{address}complete/").content.decode()) | FINISH | {"spirit_after_dip_mm": "305"}
    recording.save("spirit_run", record.number, FINISH, person=site)
    page = two.post(f"{address}complete/", mine).content.decode()
    assert f'action="{address}correct/"' in page
    assert rows_of(page)["Spirit receiver after: dip"] == ["left blank", "305", "300"]
    shown = boxes(page)
    assert shown["spirit_after_dip_mm"] == "305"
    assert shown["low_wines_before_dip_mm"] == CHARGE["low_wines_before_dip_mm"]
    without = two.post(f"{address}correct/", shown).content.decode()
    assert "Why is blank" in without
    assert rows_of(without)["Spirit receiver after: dip"] == ["left blank", "305", "300"]
    assert two.post(f"{address}correct/", boxes(without) | {"reason": "read after it had settled"}).status_code == 302
    assert stands(record)["spirit_after_dip_mm"] == "305"
    assert Movement.objects.filter(record_number=record.number, kind="correction").count() == 1


def test_who_saves_the_same_afterwards_is_told_so_and_nothing_is_written_twice(site, manager, browser_of):
    record = charged_run(site)
    address = f"/records/spirit_run/{record.number}/"
    two = browser_of(manager)
    mine = boxes(two.get(f"{address}complete/").content.decode()) | FINISH
    recording.save("spirit_run", record.number, FINISH, person=site)
    answer = two.post(f"{address}complete/", mine, follow=True)
    assert answer.redirect_chain[-1][0] == address
    assert "and says the same as you do; nothing of yours is left to write" in answer.content.decode()
    assert Version.objects.filter(record=record).count() == 2


def test_a_record_made_void_meanwhile_still_shows_what_was_typed(site, manager, browser_of):
    record = fill(site)
    address = f"/records/cask_fill/{record.number}/correct/"
    two = browser_of(manager)
    mine = boxes(two.get(address).content.decode()) | {"vat_after_dip_mm": "902", "reason": "misread"}
    recording.void(record, person=site, reason="written twice")
    page = two.post(address, mine).content.decode()
    assert "is void" in page
    assert boxes(page)["vat_after_dip_mm"] == "902"


def test_the_service_itself_looks_at_the_version_in_its_turn(site):
    record = fill(site)
    recording.correct(record, {"vat_after_dip_mm": "900"}, person=site, reason="misread", seen=1)
    with pytest.raises(MovedOn) as found:
        recording.correct(record, {"vat_after_dip_mm": "901"}, person=site, reason="misread", seen=1)
    assert found.value.latest.serial == 2
    run = charged_run(site)
    with pytest.raises(MovedOn):
        recording.save("spirit_run", run.number, FINISH, person=site, seen=7)
    assert Version.objects.filter(record=run).count() == 1


def test_lines_are_the_same_lines_in_another_order_and_a_line_taken_out_stays_out():
    sheet = sheet_of("cask_fill")
    opened = flat(sheet, FILL, CASKS)
    theirs = flat(sheet, FILL, [CASKS[1]])
    yours = flat(sheet, FILL | {"vat_after_dip_mm": "900"}, [CASKS[1], CASKS[0]])
    values, rows = unflat(together(opened, yours, theirs))
    assert values["vat_after_dip_mm"] == "900"
    assert rows == [CASKS[1]]
    gone = differences(sheet, opened, yours, theirs)
    assert {one.theirs for one in gone} == {""}
    assert all("C001" in one.label for one in gone)
    added = flat(sheet, FILL, [*CASKS, {"cask": "C003", "gross_kg": "200"}])
    values, rows = unflat(together(opened, yours, added))
    assert [row["cask"] for row in rows] == ["C002", "C001", "C003"]
