"""Warnings in the answer to a new name that looks like one that stands already."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from rest_framework import serializers

from doors.selectors.lookalikes import LookAlike

CODE = "name_looks_alike"


class WarningOut(serializers.Serializer):
    """Something to look at; what was asked for is done all the same."""

    code = serializers.ChoiceField(choices=[CODE], help_text="Which warning; the list may grow.")
    detail = serializers.CharField(help_text="The warning in words.")
    id = serializers.UUIDField(help_text="Id of what stands already.")


def warnings_of(alike: Iterable[LookAlike]) -> list[dict[str, Any]]:
    """A warning for each, as the API gives it."""
    return [
        {"code": CODE, "detail": f"{each.name!r} stands already and looks alike.", "id": each.id}
        for each in alike
    ]
