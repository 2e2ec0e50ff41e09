"""Addresses of the books."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from ledger.api.served import api
from ledger.views import accounts, casks_watch, long_work, plant
from ledger.views.account_paper import vessel_account_pdf
from ledger.views.enquiries import ending, findings
from ledger.views.enquiries import enquiry as enquiries
from ledger.views.months import closing, losses, stock_periods
from ledger.views.months import month as months
from ledger.views.proof import checking, exports, seals, trail

urlpatterns: list[URLPattern | URLResolver] = [
    path("api/", api, name="api_root"),
    path("api/<path:rest>", api, name="api"),
    path("plant/", plant.plant, name="plant"),
    path("books/", months.books, name="books"),
    path("books/months/<str:period>/", months.month_page, name="month"),
    path("books/months/<str:period>/account.pdf", months.month_pdf, name="month_pdf"),
    path("books/months/<str:period>/close/", closing.close_period, name="close_period"),
    path("books/stock-periods/", stock_periods.stock_periods, name="stock_periods"),
    path("books/findings/", findings.findings_page, name="findings"),
    path("books/findings/<str:period>/<path:record>/", findings.finding, name="finding"),
    path("books/enquiries/", findings.enquiries, name="enquiries"),
    path("books/enquiries/new/<str:kind>/<path:record>/", enquiries.enquiry_open, name="enquiry_open"),
    path("books/enquiries/<str:number>/", enquiries.enquiry, name="enquiry"),
    path("books/enquiries/<str:number>/add/", enquiries.enquiry_add, name="enquiry_add"),
    path("books/enquiries/<str:number>/propose/", ending.enquiry_propose, name="enquiry_propose"),
    path("books/enquiries/<str:number>/agree/", ending.enquiry_agree, name="enquiry_agree"),
    path("books/enquiries/<str:number>/send-back/", ending.enquiry_send_back, name="enquiry_send_back"),
    path("books/enquiries/<str:number>/open-again/", ending.enquiry_reopen, name="enquiry_reopen"),
    path("books/enquiries/<str:number>/tie/", enquiries.enquiry_tie, name="enquiry_tie"),
    path("books/enquiries/<str:number>/enquiry.pdf", enquiries.enquiry_pdf, name="enquiry_pdf"),
    path("books/losses/", losses.losses, name="losses"),
    path("books/losses/<str:period>/register.csv", losses.losses_csv, name="losses_csv"),
    path("books/losses/<str:period>/register.pdf", losses.losses_pdf, name="losses_pdf"),
    path("warehouse/expected/", casks_watch.casks_expected, name="casks_expected"),
    path("books/accounts/", accounts.accounts, name="accounts"),
    path("books/accounts/<path:code>/account.pdf", vessel_account_pdf, name="vessel_account_pdf"),
    path("books/accounts/<path:code>/", accounts.vessel_account, name="vessel_account"),
    path("books/movements/", accounts.movements, name="movements"),
    path("books/movements/<int:number>/", accounts.movement, name="movement"),
    path("books/seals/", seals.seals, name="seals"),
    path("books/check/", checking.check_digest, name="check_digest"),
    path("books/trail/", trail.trail, name="trail"),
    path("books/trail/entries/", trail.trail_entries, name="trail_entries"),
    path("books/export/", exports.export_page, name="export"),
    path("books/export/ledger.zip", exports.export_zip, name="export_zip"),
    path("books/long-work/", long_work.long_work, name="long_work"),
    path("books/long-work/<int:number>/", long_work.job_page, name="job"),
    path("books/long-work/<int:number>/give-up/", long_work.job_give_up, name="job_give_up"),
    path("books/long-work/<int:number>/again/", long_work.job_again, name="job_again"),
    path("books/long-work/<int:number>/result/", long_work.job_result, name="job_result"),
]
