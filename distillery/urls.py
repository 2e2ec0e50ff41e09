"""Where each address leads; the two upper floors are named by string only."""

from __future__ import annotations

from django.contrib.auth import views as auth_views
from django.urls import include, path

from distillery.health.asked import health
from distillery.pen.keeper import open_when_locked
from distillery.prints.views import print_copy
from distillery.screens.views import choose

handler500 = "distillery.refusing.server_error"

urlpatterns = [
    path("sign-off/", open_when_locked(auth_views.LogoutView.as_view()), name="logout"),
    path("health/", health, name="health"),
    path("screen/", choose, name="screen"),
    path("", include("distillery.first_run.urls")),
    path("prints/copies/", print_copy, name="print_copy"),
    path("", include("distillery.pen.urls")),
    path("bench/", include("distillery.bench.urls")),
    path("drafts/", include("distillery.drafts.urls")),
    path("site/tokens/", include("distillery.tokens.urls")),
    path("site/copies/", include("distillery.copies.urls")),
    path("plant/", include("distillery.plant.pages.urls")),
    path("", include("batches.urls")),
    path("", include("ledger.urls")),
]
