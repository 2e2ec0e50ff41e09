from django.urls import path

from distillery.drafts import views

urlpatterns = [
    path("keep/", views.keep, name="draft_keep"),
    path("throw-away/", views.throw_away, name="draft_throw_away"),
    path("here/", views.here, name="server_here"),
]
