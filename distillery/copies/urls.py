"""Addresses of the copies."""

from django.urls import path

from distillery.copies import views

urlpatterns = [
    path("", views.copies, name="copies"),
    path("drill/", views.copies_drill, name="copies_drill"),
]
