"""Addresses of the tokens."""

from django.urls import path

from distillery.tokens import views

urlpatterns = [
    path("", views.tokens, name="tokens"),
    path("new/", views.token_new, name="token_new"),
    path("end/", views.token_end, name="token_end"),
]
