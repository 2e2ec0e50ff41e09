"""The address of the first run."""

from django.urls import path

from distillery.first_run.views import first_run

urlpatterns = [path("first-run/", first_run, name="first_run")]
