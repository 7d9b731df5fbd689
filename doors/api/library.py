"""The rules library's own shapes in the API: what it takes is checked by it, with its schemas."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

# Components of the OpenAPI document: the schemas that `python -m rules schema NAME` prints.
FACTS = "rules_facts/$defs/facts"
INSTRUCTION = "rules_facts/$defs/instruction"
CHECK = "rules_findings/$defs/check"
SEQUENCE = "rules_findings/$defs/sequence"
TRACE = "rules_trace"
MEASUREMENT = "rules_measurement"
PLAN = "rules_plan"
VERDICTS = "rules_verdicts"
_WRITE_AS_TEXT = 'Write the number as a JSON string, as "13.6".'


class LibraryObject(serializers.Field[Any, Any, Any, Any]):
    """A JSON object that the rules library reads: it refuses what is wrong, with the place.

    Here only its kind is looked at, and that every number with a fraction is written as text,
    so that what is kept is what was sent.
    """

    default_error_messages = {"not_an_object": "This must be a JSON object."}

    def __init__(self, shape: str, **kwargs: Any) -> None:
        """Name the schema's place among the components."""
        self.shape = shape
        super().__init__(**kwargs)

    def to_internal_value(self, data: object) -> dict[str, Any]:
        """Pass the object on as sent."""
        if not isinstance(data, dict):
            self.fail("not_an_object")
        mistakes = _numbers(data)
        if mistakes:
            raise ValidationError(mistakes)
        return data

    def to_representation(self, value: dict[str, Any]) -> dict[str, Any]:
        """Give the object as kept."""
        return value


class LibraryObjectSchema(OpenApiSerializerFieldExtension):
    """Describes such an object in the OpenAPI document."""

    target_class = LibraryObject

    def map_serializer_field(self, auto_schema: Any, direction: str) -> dict[str, Any]:
        """A reference to the library's schema."""
        return {"$ref": f"#/components/schemas/{self.target.shape}"}


def _numbers(value: object) -> Any:
    """The places of JSON numbers with a fraction, nested as a serializer nests its errors."""
    if isinstance(value, Decimal):
        return [_WRITE_AS_TEXT]
    pairs = value.items() if isinstance(value, dict) else enumerate(_items(value))
    found = {key: wrong for key, inner in pairs if (wrong := _numbers(inner))}
    return {str(key): wrong for key, wrong in found.items()}


def _items(value: object) -> list[Any]:
    return value if isinstance(value, list) else []
