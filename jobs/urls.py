"""Knows the paths of the jobs app; each noun brings its own list."""

from django.urls import URLPattern

app_name = "jobs"
urlpatterns: list[URLPattern] = []
