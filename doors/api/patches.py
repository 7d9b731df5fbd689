"""Changes as merge patches (RFC 7396): what is named is set, what is absent stays, null clears."""

from __future__ import annotations

from typing import Any, TypeVar

from rest_framework import serializers
from rest_framework.request import Request

from doors.api.fields import StrictSerializer
from doors.api.parsing import StrictJSONParser

MEDIA_TYPE = "application/merge-patch+json"


class MergePatchParser(StrictJSONParser):
    """Reads a merge patch, which must be an object: any other would replace the thing whole."""

    media_type = MEDIA_TYPE


class Patch(StrictSerializer):
    """The members of a thing that may be changed; each may be left out.

    A member with `allow_null` is cleared by null; any other refuses it. A list replaces the
    whole list, so its objects are complete ones; an object that is merged in its turn is a
    `Patch` itself.
    """

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        """Return the members, none of which is required."""
        found = super().get_fields()
        for field in found.values():
            field.required = False
        return found


Shape = TypeVar("Shape", bound=Patch)


def read_patch(shape: type[Shape], request: Request) -> dict[str, Any]:
    """Return what the request changes: the named members, checked; None for those to clear."""
    body = shape(data=request.data)
    body.is_valid(raise_exception=True)
    return dict(body.validated_data)
