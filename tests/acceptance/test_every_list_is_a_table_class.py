"""Every list on a page comes from a table class; what is no list is a statement, named here one by one.

All addresses of the program are walked in the sample month. A list carries the name of its class; any other table must
be among STATEMENTS: a fixed form whose lines follow from what it states, or the parts of one record or enquiry.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils.text import slugify

from batches.counting import counting, planning
from batches.counting.walking import casks_lying
from batches.handover.handing import hand_over
from batches.handover.noting import write_note
from batches.models import Reading, Record
from batches.pages.setting_up import asked as _declared  # noqa: F401
from batches.pages.setting_up.declared import FORMS
from batches.recalls.recalling import recall
from batches.records import recording
from batches.tracing.bottled_lots import bottled_lots
from batches.visits.noting import write_visit_note
from distillery.clock.reading import books_today
from distillery.jobs import asking
from distillery.lists.tables import HouseTable
from distillery.plant.models import Cask
from distillery.rules.setting import two_hands
from distillery.tokens import keeping
from ledger.enquiries.models import Enquiry
from ledger.models import Movement
from ledger.views.lists.findings import KINDS
from tests.batches.pages.test_site_settings import THRESHOLD
from tests.people import somebody

PERIOD = "2027-03"

# By address: the tables on it that are no lists, with what each states.
STATEMENTS = {
    "figure_waiting": {"figures": "one figure that was asked for, box by box"},
    "record_new": {
        "gauges-charge": "the gauges of one sheet",
        "gauges-finish": "the gauges of one sheet",
        "gauges-change-of-feints-receiver": "the gauges of one sheet",
        "gauges-change-of-spirit-receiver": "the gauges of one sheet",
        "results-<number>": "what one sheet comes to or asks for",
    },
    "record_correct": {
        "gauges-charge": "the gauges of one sheet",
        "gauges-finish": "the gauges of one sheet",
        "gauges-change-of-feints-receiver": "the gauges of one sheet",
        "gauges-change-of-spirit-receiver": "the gauges of one sheet",
        "results-<number>": "what one sheet comes to or asks for",
    },
    "month": {
        "by-place": "the account of the month",
        "stages": "the account of the month",
        "known": "how the closing figures of the account are known",
        "yields": "what the malt of the month came to",
        "earlier": "the line of the site in this month and those before it",
        "losses": "sums of the account by cause",
        "differences": "sums of the account by place",
        "removals": "sums of the account by kind",
        "vessels": "what each vessel held at its end",
        "brought": "what it carries over a close",
        "carried": "what later periods carry for it",
    },
    "losses": {"causes": "sums by cause", "stages": "sums by stage"},
    "stock_take": {
        "progress": "how many of how many are counted in each place",
        "apart": "what was found apart from the book, with both counts",
    },
    "books": {"periods": "the months and how each was closed"},
    "close_period": {"blocks": "what stands in the way", "frozen": "what the accounts came to"},
    "plant": {"points": "the account points as each was taken last"},
    "trail": {"trail": "the trail with what was entered together in one line"},
    "movement": {"legs": "the two sides of one movement"},
    "record": {
        "results-<number>": "what one record comes to or asks for",
        "rows": "the lines of one sheet",
        "strength": "the figures drawn in a chart",
        "readings": "the readings of one record",
        "gauge": "the gauges of one record",
        "kinds": "its figures beside their kind",
        "movement-<number>": "the legs it posted",
        "gauge-<number>-steps": "one gauge from reading to alcohol",
        "gauge-<number>-parts": "what each reading adds to its uncertainty",
        "flow-<number>-steps": "one measured flow from reading to alcohol",
        "flow-<number>-parts": "what each reading adds to its uncertainty",
        "duty": "the duty on one removal",
        "corrections": "what was put right on one record",
    },
    "distillation_period": {
        "mashes": "the figures drawn in a chart",
        "feints": "the figures drawn in a chart",
    },
    "distillation_periods": {"yields": "the figures drawn in a chart"},
    "record_reading": {"readings": "the readings of one record"},
    "record_running": {
        "read": "the last readings of one record",
        "older": "those before them",
        "results-<number>": "what one record comes to or asks for",
        "readings": "the readings of one record",
    },
    "enquiry": {
        "likely-<kind>": "what would explain one finding",
        "grid": "the gauges on both sides of one reading",
        "readings": "the readings of one operation",
        "before": "the figures drawn in a chart",
        "leaning-<number>": "the figures drawn in a chart",
        "better": "what another instrument would show",
        "events": "what was done about one enquiry",
        "runs": "the runs one enquiry covers",
    },
    "finding": {
        "likely-<kind>": "what would explain one finding",
        "readings-<kind>": "the readings of one operation",
        "before-<kind>": "the figures drawn in a chart",
        "leaning-<number>": "the figures drawn in a chart",
    },
    "enquiry_propose": {
        "grid": "the gauges on both sides of one reading",
        "readings": "the readings of one operation",
        "before": "the figures drawn in a chart",
        "better": "what another instrument would show",
        "events": "what was done about one enquiry",
    },
    "enquiry_agree": {"posts": "what an ending would post"},
}
TABLE = re.compile(r"<table(?P<list> data-list=\"(?P<name>[^\"]+)\")?[^>]*>\s*<caption id=\"(?P<caption>[^\"]+)\"")


def routes(patterns: list[URLPattern | URLResolver]) -> Iterator[URLPattern]:
    for one in patterns:
        if isinstance(one, URLResolver):
            yield from routes(one.url_patterns)
        else:
            yield one


def arguments() -> dict[str, dict[str, object]]:
    """What fills in the parts of addresses that have any."""
    record = Record.objects.filter(kind="spirit_run").latest("happened_from")
    running = Record.objects.filter(kind="fermentation", state="open").latest("happened_from")
    reading = Reading.objects.select_related("record").first()
    enquiry = Enquiry.objects.first()
    movement = Movement.objects.latest("pk")
    assert reading is not None
    assert enquiry is not None
    cask = Cask.objects.select_related("vessel").first()
    assert cask is not None
    of_lot = {"kind": "malt", "code": "M001"}
    of_record = {"kind": record.kind, "number": record.number}
    of_mash = {"kind": "mash", "number": Record.objects.filter(kind="mash").latest("happened_from").number}
    of_period = {"period": PERIOD}
    of_enquiry = {"number": enquiry.number}
    found = dict.fromkeys(RECORD_ROUTES, of_record)
    found |= dict.fromkeys(ENQUIRY_ROUTES, of_enquiry)
    found["record_running"] = {"kind": running.kind, "number": running.number}
    found |= dict.fromkeys(("month", "month_pdf", "close_period", "losses_csv", "losses_pdf"), of_period)
    found |= dict.fromkeys(("return_page", "return_line", "return_csv", "return_pdf"), of_period)
    found |= {name: {"kind": record.kind} for name in ("record_list", "record_new", "blank_sheet_pdf", "worked_out")}
    note = write_note("cooling water 9 degrees", person=record.opened_by)
    handover = hand_over("nothing unusual", person=record.opened_by)
    found |= {name: {"number": handover.pk} for name in ("handover", "handover_take", "handover_pdf")}
    recalled = recall("M001", person=record.opened_by, reason="stones in the malt of this lot")
    found |= {name: {"number": recalled.pk} for name in ("recall_end", "recall_agree")}
    lot = next(one for one in bottled_lots() if one.held)
    warehouse = planning.warehouses_to_count()[0]
    planned = planning.Planned(books_today(), ["SV"], {warehouse: []}, [lot.stock.code])
    take = planning.plan(planned, person=record.opened_by)
    counting.see_casks(take, warehouse, [casks_lying(warehouse)[0].vessel.code], person=record.opened_by)
    of_take = {"serial": take.serial}
    found |= dict.fromkeys(TAKE_ROUTES, of_take)
    found["stock_take_vessel"] = {"serial": take.serial, "code": "SV"}
    found["stock_take_lot"] = {"serial": take.serial, "stock": lot.stock.pk}
    of_cask = {"serial": take.serial, "code": cask.vessel.code}
    found |= dict.fromkeys(("stock_take_cask", "stock_take_not_found"), of_cask)
    period = recording.save("distillation_period", None, PERIOD_OPENED, person=record.opened_by, sure=True)
    found |= {
        name: {"number": period.number}
        for name in ("distillation_period", "distillation_period_json", "distillation_period_pdf")
    }
    noted = write_visit_note("Row 2 was counted.", visited_on=books_today(), person=somebody("test-visitor", "officer"))
    found |= {name: {"number": noted.number} for name in VISIT_ROUTES}
    job = asking.ask("export", {"movements": movement.pk, "seal": movement.seal})
    found |= {name: {"number": job.pk} for name in ("job", "job_give_up", "job_again", "job_result")}
    keeping.make(name="accounts", person=record.opened_by)
    workbook = asking.ask("try_workbook", {"workbook": "0" * 32, "digest": "", "name": "site.xlsx"})
    found |= {name: {"number": workbook.pk} for name in ("bring_in_job", "bring_in_write")}
    figure = FORMS["thresholds"](THRESHOLD)
    assert figure.is_valid()
    keeper = somebody("test-figures", "manager")
    waits = two_hands.ask("thresholds", THRESHOLD, put=figure.put, person=keeper).waits
    assert waits is not None
    found |= {name: {"number": waits.pk} for name in ("figure_waiting", "figure_agree", "figure_refuse")}
    return found | {
        "api": {"rest": "openapi.json"},
        "note_strike": {"note": note.pk},
        "reading_strike": {"kind": reading.record.kind, "number": reading.record.number, "reading": reading.pk},
        "finding": {"period": PERIOD, "record": enquiry.record_number},
        "enquiry_open": {"kind": record.kind, "record": record.number},
        "movement": {"number": movement.pk},
        "cask": {"code": cask.vessel.code},
        "cask_print": {"code": cask.vessel.code},
        "person": {"username": record.opened_by.username},
        "person_about": {"username": record.opened_by.username, "what": "roles"},
        "site_setting": {"kind": "thresholds"},
        "site_setting_new": {"kind": "thresholds"},
        "first_month_state": {"what": "months"},
        "lot": of_lot,
        "lot_json": of_lot,
        "silo": {"code": "SI1"},
        "vessel_account": {"code": "SV"},
        "labels_print": {"what": "lot"},
        "vessel_account_pdf": {"code": "SV"},
        "batch": of_mash,
        "batch_pdf": of_mash,
        "bench_tool": {"name": "reduce"},
        "bench_slip": {"name": "reduce"},
        "bench_table_pdf": {"name": "strength"},
    }


PERIOD_OPENED = {
    "spirit_class": "malt spirit",
    "opened_at": "2027-03-01T06:30",
    "feints_receiver": "FR",
    "feints_open_dip_mm": "507",
    "feints_open_celsius": "17",
    "feints_open_hydrometer_percent": "34.9",
}
RECORD_ROUTES = (
    "record",
    "record_add",
    "record_correct",
    "record_reading",
    "record_running",
    "record_void",
    "record_countersign",
    "record_send_back",
    "record_pdf",
)
TAKE_ROUTES = (
    "stock_take",
    "stock_take_vessels",
    "stock_take_casks",
    "stock_take_see",
    "stock_take_bottles",
    "stock_take_ready",
    "stock_take_agree",
    "stock_take_give_up",
    "stock_take_pdf",
    "stock_take_sheets",
)
VISIT_ROUTES = ("visit_note", "visit_note_put_right", "visit_note_print")
# Their addresses say besides of which warehouse, lot or document they are.
WITH_MORE = {"stock_take_cask", "stock_take_not_found", "stock_take_lot", "labels_print", "officer_bundle_part"}
ENQUIRY_ROUTES = (
    "enquiry",
    "enquiry_add",
    "enquiry_propose",
    "enquiry_agree",
    "enquiry_send_back",
    "enquiry_reopen",
    "enquiry_tie",
    "enquiry_pdf",
)
# Walked without a signing-on of their own: they end it, or begin it.
SIGNING = {"login", "logout"}
# No page, but what a button does.
ANSWERS_POSTS_ALONE = {
    "first_month_state",
    "record_countersign",
    "enquiry_send_back",
    "job_give_up",
    "job_again",
    "screen",
    "handover_take",
    "recall_agree",
    "pen_keep",
    "pen_lock",
    "pen_key",
    "draft_keep",
    "draft_throw_away",
    "worked_out",
    "stock_take_see",
    "stock_take_ready",
    "stock_take_agree",
    "bring_in_write",
    "copies_drill",
    "print_copy",
    "blank_sheet_returned",
    "figure_agree",
    "figure_refuse",
    # An officer's alone.
    "visit_note_put_right",
    # No page either: it asks for a token.
    "api_root",
}


def classes(kind: type[HouseTable] = HouseTable) -> Iterator[type[HouseTable]]:
    for one in kind.__subclasses__():
        yield one
        yield from classes(one)


def spoken_of(caption: str) -> str:
    """The name of a table as STATEMENTS has it: its caption's without the numbers of the data."""
    name = re.sub(r"\d+", "<number>", caption.removesuffix("-caption"))
    return re.sub(rf"-({'|'.join(map(slugify, KINDS))})$", "-<kind>", name)


@pytest.fixture
def everybody(person_of):
    return person_of("test-everybody", "manager", "administrator", "staff")


def test_every_table_on_every_page_is_a_list_or_a_statement_named_here(loaded_month, everybody, browser_of):
    here, filled = browser_of(everybody), arguments()
    lists: dict[str, set[str]] = {}
    strange = []
    walked = [route.name for route in routes(get_resolver().url_patterns) if route.name not in SIGNING]
    for route in walked:
        answer = here.get(reverse(route, kwargs=filled.get(route)))
        assert answer.status_code < 400 or route in ANSWERS_POSTS_ALONE | WITH_MORE | set(ENQUIRY_ROUTES), route
        if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
            continue
        page = answer.content.decode()
        assert len(TABLE.findall(page)) == page.count("<table"), f"a table of {route} has no caption"
        for table in TABLE.finditer(page):
            if table["list"]:
                lists.setdefault(route, set()).add(table["name"])
            elif spoken_of(table["caption"]) not in STATEMENTS.get(route, {}):
                strange.append(f"{route}: {spoken_of(table['caption'])}")
    assert not strange, "\n".join(sorted(set(map(str, strange))))
    named = {one.name for one in classes()}
    assert {name for of_page in lists.values() for name in of_page} <= named
    assert set(lists) >= {
        "shift",
        "notes",
        "handovers",
        "records",
        "distillation_periods",
        "distillation_period",
        "recalls",
        "stock_casks",
        "stock_on",
        "stock_take",
        "stock_take_bottles",
        "stock_take_casks",
        "stock_take_vessels",
        "record_list",
        "warehouse",
        "lying",
        "cask",
        "casks_expected",
        "bottling",
        "site",
        "tokens",
        "instruments",
        "plant",
        "accounts",
        "movements",
        "vessel_account",
        "findings",
        "enquiries",
        "losses",
        "duty_account",
        "returns",
        "return_page",
        "month",
        "seals",
        "trail_entries",
        "asked_for",
        "entries_changed",
        "visit_notes",
    }


LISTS = {
    "/": ("open", "written"),
    "/notes/": ("",),
    "/handover/": ("",),
    "/distilling/": ("",),
    "/recalls/": ("",),
    "/trace/?ref=M001": ("ahead",),
    "/trace/?ref=BO0001": ("behind", "ahead", "not-known"),
    "/recalls/touched/?ref=M001": ("left", "in-stock", "bottled", "in-places", "others"),
    "/asked-for/": ("asked-for",),
    "/changes/?of=SV": ("",),
    "/changes/entries/?month=2027-03": ("",),
    "/visit-notes/": ("",),
    "/stock/": ("vessels", "bottles"),
    "/stock/casks/?on=2027-03-15": ("casks",),
    "/warehouse/": ("",),
    "/warehouse/expected/": ("",),
    "/bottling/": ("stock", "lots", "bottlings", "removals"),
    "/stores/": ("",),
    "/stores/malt/M001/": ("book", "uses"),
    "/stores/silo/SI1/": ("",),
    "/site/": ("vessels", "counted-casks", "rates", "roundings"),
    "/site/figures/thresholds/": ("",),
    "/site/figures/usual/": ("",),
    "/site/figures/reporting/": ("",),
    "/site/people/": ("people", "changes"),
    "/site/due/": ("",),
    "/site/tokens/": ("",),
    "/site/copies/": ("copies", "drills"),
    "/plant/": ("",),
    "/plant/instruments/": ("instruments", "uses", "certificates", "calibrations", "obscurations"),
    "/books/accounts/": ("",),
    "/books/movements/": ("",),
    f"/books/accounts/SV/?month={PERIOD}": ("", "gauges"),
    f"/books/findings/?month={PERIOD}": ("", "others"),
    "/books/enquiries/": ("",),
    f"/books/losses/?month={PERIOD}": ("losses", "gains", "differences"),
    f"/books/months/{PERIOD}/": ("findings", "others"),
    "/books/returns/": ("",),
    f"/books/returns/{PERIOD}/": ("duty", "suspension", "spirits", "cereals", "warehouse", "warehouse-lines"),
    f"/books/returns/{PERIOD}/line/?line=suspension+dispatched+outside+the+UK": ("",),
    "/books/returns/2027-Q1/line/?line=cereals+used%3A+malted+barley": ("",),
    f"/books/duty/?month={PERIOD}": ("duty", "removals", "measured", "may-be-due"),
    "/books/stock-periods/": ("",),
    "/books/seals/": ("day",),
    "/books/trail/entries/": ("",),
}


@pytest.mark.parametrize(("page", "prefix"), [(page, one) for page, several in LISTS.items() for one in several])
def test_every_list_is_saved_and_printed_from_its_class(loaded_month, everybody, browser_of, page: str, prefix: str):
    here = browser_of(everybody)
    name = f"{prefix}-as" if prefix else "as"
    beginnings = {"csv": b"", "xlsx": b"PK", "pdf": b"%PDF"}
    for kind, beginning in beginnings.items():
        answer = here.get(f"{page}{'&' if '?' in page else '?'}{name}={kind}")
        assert answer.status_code == 200
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        assert content.startswith(beginning)
        assert not content.startswith(b"<!doctype")


ALWAYS_SHOWN = [(page, one) for page, several in LISTS.items() for one in several if one != "others"]


@pytest.mark.parametrize(("page", "prefix"), ALWAYS_SHOWN)
def test_every_list_says_what_it_leaves_out_and_sorts_by_each_of_its_heads(
    loaded_month, everybody, browser_of, page: str, prefix: str
):
    here, before = browser_of(everybody), f"{prefix}-" if prefix else ""
    joined = f"{page}{'&' if '?' in page else '?'}"
    answer = here.get(f"{joined}{before}sort=colour&{before}per_page=many&{before}page=999999&{before}after=zz")
    assert answer.status_code == 200
    text = answer.content.decode()
    assert "cannot be sorted by" in text
    for sort in set(re.findall(rf"[?;]{before}sort=(-?[a-z_]+)\"", text)):
        for turned in (sort, f"-{sort.removeprefix('-')}"):
            for way in ("", f"&{before}page=last"):
                assert here.get(f"{joined}{before}sort={turned}{way}").status_code == 200
