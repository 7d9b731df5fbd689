"""The rules library's answers in the API."""

from __future__ import annotations

from rest_framework import serializers


class JudgementOut(serializers.Serializer):
    """The rules library's answer, kept as it was given; see its schema `verdicts`."""

    summary = serializers.DictField()
    library = serializers.DictField()
    verdicts = serializers.ListField(child=serializers.DictField())
    advisory = serializers.ListField(child=serializers.DictField())
    measurements = serializers.ListField(child=serializers.DictField())


class RequirementsOut(serializers.Serializer):
    """What applies to an opening on a day, each with where it is written and how it came here."""

    opening = serializers.UUIDField()
    on = serializers.DateField()
    digest = serializers.CharField()
    library_version = serializers.CharField()
    requirements = serializers.ListField(child=serializers.DictField())
