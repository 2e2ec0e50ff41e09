"""Addresses of the bench."""

from __future__ import annotations

from django.urls import URLPattern, path

from distillery.bench import views

urlpatterns: list[URLPattern] = [
    path("", views.bench, name="bench"),
    path("tables/", views.tables, name="bench_tables"),
    path("tables/<slug:name>.pdf", views.table_pdf, name="bench_table_pdf"),
    path("<slug:name>/", views.tool, name="bench_tool"),
    path("<slug:name>/slip.pdf", views.slip, name="bench_slip"),
]
