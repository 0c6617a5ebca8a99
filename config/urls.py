"""Gives each app its paths."""

from django.contrib import admin
from django.urls import include, path

handler500 = "config.health.views.server_error"

urlpatterns = [
    path("account/", include("allauth.account.urls")),
    path("back-office/", admin.site.urls),
    path("", include("jobs.urls")),
    path("", include("checklists.urls")),
]
