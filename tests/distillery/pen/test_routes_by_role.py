"""Every address of the pen by every role: who may ask for it, who may send to it, and who is sent to sign on; and
who is let in at the door of every other address."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from distillery.pen.urls import urlpatterns

pytestmark = pytest.mark.django_db
EVERYBODY = {"staff", "manager", "officer", "administrator"}
KEEPERS = {"manager", "administrator"}
# Who is not refused, beside whoever nobody is signed on as.
MAY = {
    "login": EVERYBODY | {"nobody"},
    "pen_key": EVERYBODY | {"nobody"},
    "pen_now": EVERYBODY,
    "pen_keep": EVERYBODY,
    "pen_lock": EVERYBODY,
    "pc_enrol": KEEPERS,
    "pc_end": KEEPERS,
    "pin_choose": EVERYBODY - {"officer"},
    "on_shift": EVERYBODY - {"officer"},
    "pass_make": {"manager"},
    "key_register": KEEPERS,
    "key_end": KEEPERS,
}
WITHOUT_JAVASCRIPT = {"pen_key": 403, "key_register": 403}


def test_every_route_has_its_line():
    assert {route.name for route in urlpatterns} == MAY.keys()


@pytest.mark.parametrize("role", [*sorted(EVERYBODY), "nobody"])
@pytest.mark.parametrize("route", sorted(MAY))
def test_who_may(route, role, request, browser_of, stranger):
    here = stranger if role == "nobody" else browser_of(request.getfixturevalue(role))
    shown, sent = here.get(reverse(route)), here.post(reverse(route))
    if role in MAY[route]:
        assert shown.status_code in (200, 302, 405)
        assert sent.status_code in (200, 204, 302, 403 if route in WITHOUT_JAVASCRIPT else 200, 405)
    elif role == "nobody":
        assert sent.status_code == 302
        assert sent["Location"].startswith("/sign-on/")
    else:
        assert sent.status_code == 403
        assert "This needs the role" in sent.content.decode()


# Every address of the program by who is let in at its door, whatever is sent. What its page then refuses by itself is
# tried in tests/acceptance/test_every_address_by_every_role.py.
WRITERS, KEEPERS_NAMED, READERS = (
    ("administrator", "manager", "staff"),
    ("administrator", "manager"),
    ("administrator", "manager", "officer"),
)
DOORS = {
    (): """
        accounts all_changes asked_for batch batch_pdf blank_sheet_pdf blank_sheets blank_sheets_issued board
        board_pdf books bottling cask cask_entry cask_numbers cask_print casks_expected check_digest
        close_period distillation_period distillation_period_json distillation_period_pdf distillation_periods
        due duty_account enquiries enquiry enquiry_pdf entries_changed figure_waiting figures_waiting find
        finding findings first_month handover handover_pdf handovers instrument_certificate instrument_new
        instrument_use instruments instruments_pdf job job_again job_give_up job_result keyholder_new labels
        labels_print logout long_work losses losses_csv losses_pdf lot lot_json lying lying_pdf month month_pdf
        movement movements notes obscuration_new pen_keep pen_lock pen_now plant print_copy recall recall_pdf
        recalls recipe_new recipes record record_list record_pdf record_running records removals return_csv
        return_line return_page return_pdf returns rows_new seals shift silo site_setting stock_casks stock_on
        stock_periods stock_take stock_take_bottles stock_take_casks stock_take_pdf stock_take_sheets
        stock_take_vessels stock_takes stores trace trace_json trace_pdf vessel_account vessel_account_pdf
        vessel_calibration vessel_new vessel_table visit_note visit_note_print visit_notes warehouse
        warehouses_kept washbacks
    """,
    WRITERS: """
        blank_sheet_returned draft_throw_away enquiry_add enquiry_agree enquiry_open enquiry_propose
        enquiry_send_back enquiry_tie figure_agree figure_refuse handover_new handover_take note_strike on_shift
        own_password pin_choose reading_strike recall_agree recall_end recall_new record_add record_correct
        record_countersign record_new record_reading record_send_back record_void stock_take_agree
        stock_take_cask stock_take_give_up stock_take_lot stock_take_new stock_take_not_found stock_take_ready
        stock_take_see stock_take_vessel worked_out
    """,
    KEEPERS_NAMED: """
        bottle_sizes_new copies copies_drill duty_rate_new first_month_state key_end key_register
        package_errors_new pc_end pc_enrol person_about person_new rounding_rule_new site_setting_new
    """,
    READERS: """
        export export_zip officer_bundle officer_bundle_part people person site trail trail_entries
    """,
    ("manager",): "bring_in bring_in_job bring_in_template bring_in_write enquiry_reopen pass_make",
    ("administrator",): "token_end token_new tokens",
    ("officer",): "visit_note_put_right",
}
# Who is not signed on is let in at these alone; the last four ask by themselves for a person or a token.
OPEN_DOORS = """
    bench bench_slip bench_table_pdf bench_tables bench_tool first_run health login pen_key screen
    api api_root draft_keep server_here
"""


def _routes(patterns: list[URLPattern | URLResolver]) -> Iterator[URLPattern]:
    for one in patterns:
        if isinstance(one, URLResolver):
            yield from _routes(one.url_patterns)
        else:
            yield one


def test_every_address_of_the_program_has_its_door() -> None:
    found: dict[tuple[str, ...], set[str]] = {}
    open_doors = set()
    for route in _routes(get_resolver().url_patterns):
        if not getattr(route.callback, "login_required", True):
            open_doors.add(str(route.name))
            continue
        let_in = tuple(sorted(getattr(route.callback, "open_to", None) or ()))
        found.setdefault(let_in, set()).add(str(route.name))
    assert open_doors == set(OPEN_DOORS.split())
    assert found == {who: set(names.split()) for who, names in DOORS.items()}
