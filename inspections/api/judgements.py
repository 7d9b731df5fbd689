"""The rules library's own shapes in the API: what it takes is checked by it, with its schemas."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from rest_framework import serializers

FINDING = "findings#/checks"
SEQUENCE = "findings#/sequences"
TRACE = "trace"


class LibraryObject(serializers.Field[Any, Any, Any, Any]):
    """A JSON object that the rules library reads: it refuses what is wrong, with the place."""

    default_error_messages = {"not_an_object": "This must be a JSON object."}

    def __init__(self, shape: str, **kwargs: Any) -> None:
        """Name the schema that `python -m rules schema` prints."""
        self.shape = shape
        super().__init__(**kwargs)

    def to_internal_value(self, data: object) -> dict[str, Any]:
        """Pass the object on as sent."""
        if not isinstance(data, dict):
            self.fail("not_an_object")
        return data

    def to_representation(self, value: dict[str, Any]) -> dict[str, Any]:
        """Give the object as kept."""
        return value


class LibraryObjectSchema(OpenApiSerializerFieldExtension):
    """Describes such an object in the OpenAPI document."""

    target_class = LibraryObject

    def map_serializer_field(self, auto_schema: Any, direction: str) -> dict[str, Any]:
        """An object, with the name of the library's schema."""
        shape = self.target.shape
        return {"type": "object", "description": f"As the rules library's schema `{shape}`."}


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
