"""What JSON itself knows: a text, a flag, a whole number; each as itself and nothing else."""

from __future__ import annotations

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers


class StringField(serializers.Field[Any, Any, Any, Any]):
    """A field that comes as a JSON string."""

    default_error_messages = {"not_a_string": "This must be a JSON string."}

    def string(self, data: object) -> str:
        """Return `data`, which must be a string."""
        if not isinstance(data, str):
            self.fail("not_a_string")
        return data


@extend_schema_field(OpenApiTypes.BOOL)
class FlagField(serializers.Field[Any, Any, Any, Any]):
    """JSON true or false; neither 1 nor "true"."""

    default_error_messages = {"not_a_flag": "This must be true or false."}

    def to_internal_value(self, data: object) -> bool:
        """Return the flag."""
        if not isinstance(data, bool):
            self.fail("not_a_flag")
        return data

    def to_representation(self, value: bool) -> bool:  # noqa: FBT001 (the framework's)
        """Return the flag."""
        return value


class WholeField(serializers.IntegerField):
    """A JSON whole number; neither "5", 5.0 nor true."""

    default_error_messages = {"not_whole": "This must be a JSON whole number."}

    def to_internal_value(self, data: object) -> int:
        """Return the number."""
        if not isinstance(data, int) or isinstance(data, bool):
            self.fail("not_whole")
        return data
