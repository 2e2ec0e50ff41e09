"""Addresses of the books."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from ledger.views import accounts, months, plant

urlpatterns: list[URLPattern | URLResolver] = [
    path("plant/", plant.plant, name="plant"),
    path("books/", months.books, name="books"),
    path("books/months/<str:period>/", months.month_page, name="month"),
    path("books/months/<str:period>/account.pdf", months.month_pdf, name="month_pdf"),
    path("books/findings/", months.findings_page, name="findings"),
    path("books/findings/<str:period>/<path:record>/", months.finding, name="finding"),
    path("books/accounts/", accounts.accounts, name="accounts"),
    path("books/accounts/<path:code>/", accounts.vessel_account, name="vessel_account"),
    path("books/movements/<int:number>/", accounts.movement, name="movement"),
]
