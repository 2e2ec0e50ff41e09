"""Addresses of the instruments, the recipes, and what is entered of warehouses and casks."""

from __future__ import annotations

from django.urls import path

from distillery.plant.pages import views

urlpatterns = [
    path("instruments/", views.instruments, name="instruments"),
    path("instruments/register.pdf", views.instruments_pdf, name="instruments_pdf"),
    path("instruments/new/", views.enter, {"name": "instrument_new"}, name="instrument_new"),
    path("instruments/use/", views.enter, {"name": "instrument_use"}, name="instrument_use"),
    path("instruments/certificate/", views.enter, {"name": "instrument_certificate"}, name="instrument_certificate"),
    path("instruments/calibration/", views.enter, {"name": "vessel_calibration"}, name="vessel_calibration"),
    path("vessels/new/", views.enter, {"name": "vessel_new"}, name="vessel_new"),
    path("vessels/table/", views.enter, {"name": "vessel_table"}, name="vessel_table"),
    path("recipes/", views.recipes, name="recipes"),
    path("recipes/new/", views.enter, {"name": "recipe_new"}, name="recipe_new"),
    path("instruments/obscuration/", views.enter, {"name": "obscuration_new"}, name="obscuration_new"),
    path("warehouse-rows/new/", views.enter, {"name": "rows_new"}, name="rows_new"),
    path("keyholders/new/", views.enter, {"name": "keyholder_new"}, name="keyholder_new"),
    path("casks/known/", views.enter, {"name": "cask_entry"}, name="cask_entry"),
]
