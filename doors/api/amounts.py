"""A value with its unit, as the API takes and echoes it."""

from __future__ import annotations

from rest_framework import serializers

from doors.api.fields import DecimalTextField, StrictSerializer, TextField


class AmountIn(StrictSerializer):
    """A value with its unit."""

    value = DecimalTextField(help_text="In the unit that stands beside it.")
    unit = TextField(max_length=12, help_text="As N, lbf, s, in, mm, V; never converted.")


class AmountOut(serializers.Serializer):
    """A value with its unit, as it was sent."""

    value = serializers.CharField(help_text="In the unit that stands beside it.")
    unit = serializers.CharField(help_text="As it was sent.")
