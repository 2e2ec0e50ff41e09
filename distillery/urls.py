"""Where each address leads; the two upper floors are named by string only."""

from __future__ import annotations

from django.contrib.auth import views as auth_views
from django.urls import include, path

from distillery.screens.views import choose
from distillery.typed_again import KeepsTyped

handler500 = "distillery.refusing.server_error"


class SignOn(KeepsTyped, auth_views.LoginView):
    """Signs a person on, and gives back what was typed before."""


urlpatterns = [
    path("sign-on/", SignOn.as_view(redirect_authenticated_user=True), name="login"),
    path("sign-off/", auth_views.LogoutView.as_view(), name="logout"),
    path("screen/", choose, name="screen"),
    path("bench/", include("distillery.bench.urls")),
    path("plant/", include("distillery.plant.urls")),
    path("", include("batches.urls")),
    path("", include("ledger.urls")),
]
