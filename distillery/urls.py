"""Where each address leads; the two upper floors are named by string only."""

from __future__ import annotations

from django.contrib.auth import views as auth_views
from django.urls import include, path

urlpatterns = [
    path("sign-on/", auth_views.LoginView.as_view(redirect_authenticated_user=True), name="login"),
    path("sign-off/", auth_views.LogoutView.as_view(), name="logout"),
    path("bench/", include("distillery.bench.urls")),
    path("plant/", include("distillery.plant.urls")),
    path("", include("batches.urls")),
    path("", include("ledger.urls")),
]
