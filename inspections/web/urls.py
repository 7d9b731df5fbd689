"""Addresses of the pages about doors."""

from __future__ import annotations

from django.urls import path

from inspections.web import doors

urlpatterns = [
    path("d/<str:code>", doors.door, name="door"),
]
