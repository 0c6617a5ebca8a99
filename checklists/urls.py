"""Knows the paths of the checklists app."""

from django.urls import URLPattern

app_name = "checklists"
urlpatterns: list[URLPattern] = []
