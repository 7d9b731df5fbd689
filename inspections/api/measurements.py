"""What a trace tells, answered at the door and kept nowhere: `/v1/measurements`."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

import rules
from doors.api.base import TenantView
from doors.api.fields import StrictSerializer
from doors.api.library import MEASUREMENT, TRACE, LibraryObject
from doors.api.parsing import LARGEST_WITH_TRACES
from inspections.selectors.measurements import measured


class MeasurementIn(StrictSerializer):
    """One trace, raw."""

    trace = LibraryObject(TRACE, help_text="Of any kind that a visit may hold.")


class MeasurementOut(serializers.Serializer):
    """What the rules library makes of it."""

    library_version = serializers.CharField(help_text="Of the rules library that measured.")
    measurement = LibraryObject(
        MEASUREMENT,
        help_text=(
            "Readings with their uncertainty (k = 2), each ready to be sent with a visit; what was "
            "seen besides, as stops and pauses; what was left out of the samples, and why."
        ),
    )


class MeasurementsView(TenantView):
    """A trace measured: no row is read or written for it."""

    scope = "visits"
    in_pieces = True  # no transaction is held while it is computed
    budgets = {"post": "measurements"}
    largest_body = LARGEST_WITH_TRACES

    @extend_schema(
        operation_id="measure_trace", request=MeasurementIn, responses={200: MeasurementOut}
    )
    def post(self, request: Request) -> Response:
        """Measure one trace and answer what it tells; nothing of it is kept.

        A visit that holds the same trace is measured in the same way, so what is shown at the
        door is what will be judged, as long as the library is the same.

        The body may hold 5 MB: the 200,000 samples that a trace may have, at up to 24 bytes each
        (`["199.9995","12.3456"],` are 22). A larger body is refused with `too_large`.
        """
        body = MeasurementIn(data=request.data)
        body.is_valid(raise_exception=True)
        trace: dict[str, Any] = body.validated_data["trace"]
        return Response(
            {"library_version": rules.__version__, "measurement": measured(trace, "/trace")}
        )
