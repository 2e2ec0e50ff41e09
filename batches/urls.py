"""Addresses of this floor's pages. A number may hold a stroke: what is done to a record stands before its own page."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from batches.pages.blank import views as blank
from batches.pages.board import views as board
from batches.pages.bringing import views as bringing
from batches.pages.bundle.views import officer_bundle, officer_bundle_part
from batches.pages.casks import lying
from batches.pages.casks import page as cask_page
from batches.pages.casks.kept import warehouses_kept
from batches.pages.changed import views as changed
from batches.pages.counting import counts as counting_counts
from batches.pages.counting import stock as counting_stock
from batches.pages.counting import views as counting
from batches.pages.counting import walks as counting_walks
from batches.pages.distilling import views as distilling
from batches.pages.handing import handover, notes
from batches.pages.labels import views as labels
from batches.pages.officer import views as officer
from batches.pages.papers import views as papers
from batches.pages.people import views as people
from batches.pages.people.own_password import own_password
from batches.pages.places import find, shift, site, warehouse
from batches.pages.places.bottling import bottling
from batches.pages.places.cask_numbers import cask_numbers
from batches.pages.places.removals import removals
from batches.pages.places.washbacks import washbacks
from batches.pages.recalling import views as recalling
from batches.pages.records import lists, paper, record
from batches.pages.returns import views as returns
from batches.pages.running.page import record_running
from batches.pages.setting_up import entering as setting_entry
from batches.pages.setting_up import first_month, waiting
from batches.pages.setting_up import views as setting_up
from batches.pages.stores.silo import silo
from batches.pages.stores.views import lot_json, lot_page, stores
from batches.pages.tracing import views as tracing
from batches.pages.visits import views as visits
from batches.pages.writing import entering, signing, taking_back
from batches.pages.writing.from_the_bench import gauges_waiting
from batches.pages.writing.grid.working_out import worked_out
from distillery.bench.views import OPEN_SHEETS

# The bench, a floor below, is told which open sheets wait for a gauge.
OPEN_SHEETS.append(gauges_waiting)

TAKE = "stock-takes/<int:serial>/"
ONE = "records/<str:kind>/<path:number>/"

urlpatterns: list[URLPattern | URLResolver] = [
    path("", shift.shift, name="shift"),
    path("notes/", notes.note_list, name="notes"),
    path("notes/<int:note>/strike/", notes.note_strike, name="note_strike"),
    path("handover/", handover.handover_list, name="handovers"),
    path("handover/new/", handover.handover_new, name="handover_new"),
    path("handover/<int:number>/", handover.handover_page, name="handover"),
    path("handover/<int:number>/take/", handover.handover_take, name="handover_take"),
    path("handover/<int:number>/handover.pdf", handover.handover_pdf, name="handover_pdf"),
    path("warehouse/", warehouse.warehouse, name="warehouse"),
    path("warehouse/numbers/", cask_numbers, name="cask_numbers"),
    path("warehouse/kept/", warehouses_kept, name="warehouses_kept"),
    path("warehouse/lying/", lying.lying, name="lying"),
    path("warehouse/lying/walk-sheet.pdf", lying.lying_pdf, name="lying_pdf"),
    path("casks/<path:code>/cask.pdf", cask_page.cask_print, name="cask_print"),
    path("casks/<path:code>/", cask_page.cask, name="cask"),
    path("bottling/", bottling, name="bottling"),
    path("removals/", removals, name="removals"),
    path("stores/", stores, name="stores"),
    path("stores/silo/<path:code>/", silo, name="silo"),
    path("stores/<str:kind>/<path:code>/lot.json", lot_json, name="lot_json"),
    path("stores/<str:kind>/<path:code>/", lot_page, name="lot"),
    path("washbacks/", washbacks, name="washbacks"),
    path("find/", find.find, name="find"),
    path("trace/", tracing.trace, name="trace"),
    path("trace/trace.json", tracing.trace_json, name="trace_json"),
    path("trace/trace.pdf", tracing.trace_print, name="trace_pdf"),
    path("recalls/", recalling.recalls, name="recalls"),
    path("recalls/touched/", recalling.recall, name="recall"),
    path("recalls/touched/recall.pdf", recalling.recall_print, name="recall_pdf"),
    path("recalls/new/", recalling.recall_new, name="recall_new"),
    path("recalls/<int:number>/end/", recalling.recall_end, name="recall_end"),
    path("recalls/<int:number>/agree/", recalling.recall_agree, name="recall_agree"),
    path("books/returns/", returns.returns, name="returns"),
    path("books/returns/<str:period>/", returns.return_page, name="return_page"),
    path("books/returns/<str:period>/line/", returns.return_line, name="return_line"),
    path("books/returns/<str:period>/figures.csv", returns.return_csv, name="return_csv"),
    path("books/returns/<str:period>/figures.pdf", returns.return_print, name="return_pdf"),
    path("books/duty/", returns.duty_account, name="duty_account"),
    path("books/officer-bundle/", officer_bundle, name="officer_bundle"),
    path("books/officer-bundle/document.pdf", officer_bundle_part, name="officer_bundle_part"),
    path("stock/", counting_stock.stock_on, name="stock_on"),
    path("stock/casks/", counting_stock.stock_casks, name="stock_casks"),
    path("stock-takes/", counting.takes, name="stock_takes"),
    path("stock-takes/new/", counting.take_new, name="stock_take_new"),
    path(TAKE, counting.take_page, name="stock_take"),
    path(f"{TAKE}vessels/", counting_walks.walk_vessels, name="stock_take_vessels"),
    path(f"{TAKE}casks/", counting_walks.walk_casks, name="stock_take_casks"),
    path(f"{TAKE}casks/seen/", counting_walks.see_casks, name="stock_take_see"),
    path(f"{TAKE}bottles/", counting_walks.walk_bottles, name="stock_take_bottles"),
    path(f"{TAKE}vessels/<path:code>/", counting_counts.count_vessel, name="stock_take_vessel"),
    path(f"{TAKE}casks/not-found/<path:code>/", counting_counts.cask_not_found, name="stock_take_not_found"),
    path(f"{TAKE}casks/<path:code>/", counting_counts.weigh_cask, name="stock_take_cask"),
    path(f"{TAKE}bottles/<int:stock>/", counting_counts.count_lot, name="stock_take_lot"),
    path(f"{TAKE}ready/", counting.take_ready, name="stock_take_ready"),
    path(f"{TAKE}agree/", counting.take_agree, name="stock_take_agree"),
    path(f"{TAKE}give-up/", counting.take_give_up, name="stock_take_give_up"),
    path(f"{TAKE}stock-take.pdf", counting.take_pdf, name="stock_take_pdf"),
    path(f"{TAKE}counting-sheets.pdf", counting.take_sheets, name="stock_take_sheets"),
    path("site/", site.site, name="site"),
    path("site/bring-in/", bringing.bring_in, name="bring_in"),
    path("site/bring-in/template/", bringing.bring_in_template, name="bring_in_template"),
    path("site/bring-in/<int:number>/", bringing.bring_in_job, name="bring_in_job"),
    path("site/bring-in/<int:number>/write/", bringing.bring_in_write, name="bring_in_write"),
    path("site/duty-rate/", setting_entry.enter, {"name": "duty_rate_new"}, name="duty_rate_new"),
    path("site/rounding/", setting_entry.enter, {"name": "rounding_rule_new"}, name="rounding_rule_new"),
    path("board/", board.board_page, name="board"),
    path("board/board.pdf", board.board_print, name="board_pdf"),
    path("site/first-month/", first_month.first_month, name="first_month"),
    path("site/first-month/<str:what>/", first_month.first_month_state, name="first_month_state"),
    path("site/due/", setting_up.due, name="due"),
    path("own-password/", own_password, name="own_password"),
    path("site/people/", people.people, name="people"),
    path("site/people/new/", people.person_new, name="person_new"),
    path("site/people/of/<str:username>/", people.person, name="person"),
    path("site/people/of/<str:username>/<str:what>/", people.person_about, name="person_about"),
    path("site/figures/asked/", waiting.figures_waiting, name="figures_waiting"),
    path("site/figures/asked/<int:number>/", waiting.figure_waiting, name="figure_waiting"),
    path("site/figures/asked/<int:number>/agree/", waiting.figure_agree, name="figure_agree"),
    path("site/figures/asked/<int:number>/refuse/", waiting.figure_refuse, name="figure_refuse"),
    path("site/figures/<str:kind>/", setting_up.site_setting, name="site_setting"),
    path("site/figures/<str:kind>/new/", setting_entry.site_setting_new, name="site_setting_new"),
    path("site/packages/", setting_entry.enter, {"name": "package_errors_new"}, name="package_errors_new"),
    path("site/bottle-sizes/", setting_entry.enter, {"name": "bottle_sizes_new"}, name="bottle_sizes_new"),
    path("distilling/", distilling.distillation_periods, name="distillation_periods"),
    path("distilling/<str:number>/", distilling.distillation_period, name="distillation_period"),
    path("distilling/<str:number>/period.json", distilling.distillation_period_json, name="distillation_period_json"),
    path("distilling/<str:number>/period.pdf", distilling.distillation_period_pdf, name="distillation_period_pdf"),
    path("records/", lists.records, name="records"),
    path("records/blank-sheets/", blank.blank_sheets_asked, name="blank_sheets"),
    path("records/blank-sheets/issued/", blank.blank_sheets_issued, name="blank_sheets_issued"),
    path("records/blank-sheets/returned/", blank.blank_sheet_returned, name="blank_sheet_returned"),
    path("labels/", labels.labels_asked, name="labels"),
    path("labels/<str:what>.pdf", labels.labels_print, name="labels_print"),
    path("asked-for/", officer.asked_for_page, name="asked_for"),
    path("changes/", changed.all_changes, name="all_changes"),
    path("changes/entries/", changed.entries_changed, name="entries_changed"),
    path("visit-notes/", visits.visit_note_list, name="visit_notes"),
    path("visit-notes/<int:number>/", visits.visit_note, name="visit_note"),
    path("visit-notes/<int:number>/put-right/", visits.visit_note_put_right, name="visit_note_put_right"),
    path("visit-notes/<int:number>/visit-note.pdf", visits.visit_note_print, name="visit_note_print"),
    path("records/<str:kind>/", lists.record_list, name="record_list"),
    path("records/<str:kind>/new/", entering.record_new, name="record_new"),
    path("records/<str:kind>/worked-out/", worked_out, name="worked_out"),
    path("records/<str:kind>/blank-sheet.pdf", blank.blank_sheet_pdf, name="blank_sheet_pdf"),
    path(f"{ONE}running/", record_running, name="record_running"),
    path(f"{ONE}complete/", entering.record_add, name="record_add"),
    path(f"{ONE}correct/", entering.record_correct, name="record_correct"),
    path(f"{ONE}reading/", record.record_reading, name="record_reading"),
    path(f"{ONE}reading/<int:reading>/strike/", taking_back.reading_strike, name="reading_strike"),
    path(f"{ONE}void/", taking_back.record_void, name="record_void"),
    path(f"{ONE}countersign/", record.record_countersign, name="record_countersign"),
    path(f"{ONE}send-back/", signing.record_send_back, name="record_send_back"),
    path(f"{ONE}record.pdf", paper.record_pdf, name="record_pdf"),
    path(f"{ONE}batch/", papers.batch, name="batch"),
    path(f"{ONE}batch.pdf", papers.batch_print, name="batch_pdf"),
    path(ONE, record.record_page, name="record"),
]
