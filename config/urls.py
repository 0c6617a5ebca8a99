"""Gives each app its paths."""

from django.urls import include, path

from config.favicon import favicon
from config.start.views import first_run

handler500 = "config.health.store.server_error"

urlpatterns = [
    path("favicon.ico", favicon),
    path("account/", include("allauth.account.urls")),
    path("account/second-factor/", include("allauth.mfa.urls")),
    path("account/sessions/", include("allauth.usersessions.urls")),
    path("first-run/", first_run, name="first_run"),
    path("", include("jobs.urls")),
    path("", include("checklists.urls")),
]
