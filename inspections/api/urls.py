"""The addresses of this app, each with the view that answers it."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
