"""The rules library's answers in the API."""

from __future__ import annotations

from rest_framework import serializers


class RequirementsOut(serializers.Serializer):
    """What applies to an opening on a day, each with where it is written and how it came here."""

    opening = serializers.UUIDField()
    on = serializers.DateField()
    digest = serializers.CharField()
    library_version = serializers.CharField()
    requirements = serializers.ListField(child=serializers.DictField())
