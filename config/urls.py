"""Gives each app its paths."""

from django.urls import include, path

from config.favicon import favicon
from config.keep.views import archive_file, archive_list
from config.start.views import first_run

handler500 = "config.health.store.server_error"

urlpatterns = [
    path("favicon.ico", favicon),
    path("account/", include("allauth.account.urls")),
    path("account/second-factor/", include("allauth.mfa.urls")),
    path("account/sessions/", include("allauth.usersessions.urls")),
    path("first-run/", first_run, name="first_run"),
    path("shop/archives/", archive_list, name="shop_archives"),
    path("shop/archives/<int:pk>/", archive_file, name="shop_archive_file"),
    path("", include("jobs.urls")),
    path("", include("checklists.urls")),
]
