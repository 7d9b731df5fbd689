"""Tables read in: `/v1/imports`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import DigestField, IdField, StrictSerializer, TextField
from doors.api.files import file_response
from doors.api.jobs import JobOut, job_row
from doors.api.replays import idempotent
from doors.api.scalars import FlagField, WholeField
from doors.errors import NotVisibleError
from doors.models import KEEPERS, Import, ImportRow
from doors.services.cells import DATE_ORDERS
from doors.services.import_kinds import kind_of_import
from doors.services.import_withdrawals import withdraw_import
from doors.services.imports import CHUNK, MOST_IN_A_CHUNK, ask_for_import, import_by_id
from doors.services.records import csv_lines
from doors.services.tables import SEPARATORS

KINDS = sorted(settings.IMPORTS)
OUTCOME = OpenApiParameter(
    "outcome",
    str,
    enum=sorted(ImportRow.Outcome.values),
    description="Only rows that came to this.",
)
_OPTIONS = ("site", "separator", "date_order", "values", "chunk_size", "without_dry_run")


class Words(serializers.DictField):
    """Names to names."""

    child = TextField(max_length=200, allow_blank=True)

    def __init__(self, **kwargs: Any) -> None:
        """Any number of names that a table may have."""
        super().__init__(required=False, **kwargs)


class ImportIn(StrictSerializer):
    """A table to be read."""

    kind = serializers.ChoiceField(choices=KINDS, help_text="What its rows are.")
    source_sha256 = DigestField(help_text="Of the CSV you have sent to /v1/blobs, as text/csv.")
    mapping = Words(
        help_text="From a column of the table to the field it gives; an empty name skips it. A "
        "column that is not mapped gives the field of its own name."
    )
    values = serializers.DictField(
        child=Words(),
        required=False,
        help_text="For a field, from what stands in the cells to what is meant.",
    )
    site = IdField(required=False, help_text="Where rows stand that name no site themselves.")
    separator = serializers.ChoiceField(
        choices=sorted(SEPARATORS),
        required=False,
        help_text="Between cells; told by the heading where absent.",
    )
    date_order = serializers.ChoiceField(
        choices=sorted(DATE_ORDERS),
        required=False,
        help_text="Of days not written YYYY-MM-DD; without it those are refused.",
    )
    chunk_size = WholeField(
        min_value=1,
        max_value=MOST_IN_A_CHUNK,
        required=False,
        help_text=f"Rows done together or not at all; {CHUNK} where absent.",
    )
    dry_run = FlagField(help_text="true: say what would come of it, and store nothing.")
    follows = IdField(required=False, help_text="The dry run that this one follows.")
    without_dry_run = FlagField(
        required=False, help_text="true: store what can be stored without having looked first."
    )


class CountsOut(serializers.Serializer):
    """How many rows came to what."""

    rows = serializers.IntegerField(help_text="In the whole table.", required=False)
    created = serializers.IntegerField(help_text="New things.", required=False)
    updated = serializers.IntegerField(help_text="Changed things.", required=False)
    unchanged = serializers.IntegerField(help_text="Things that were so already.", required=False)
    refused = serializers.IntegerField(help_text="Rows with mistakes.", required=False)
    held_back = serializers.IntegerField(
        help_text="Good rows in a chunk with a bad one.", required=False
    )
    taken_back = serializers.IntegerField(help_text="Things taken back.", required=False)
    kept = serializers.IntegerField(
        help_text="Things that could not be taken back.", required=False
    )


class ImportOut(serializers.Serializer):
    """A table that is read, or was."""

    id = serializers.UUIDField(help_text="Of this import.")
    kind = serializers.ChoiceField(choices=KINDS, help_text="What its rows are.")
    source_sha256 = serializers.CharField(help_text="Of the table.")
    columns = serializers.ListField(
        child=serializers.CharField(), help_text="The table's columns, in order."
    )
    mapping = serializers.DictField(
        child=serializers.CharField(), help_text="From columns to fields, as it was sent."
    )
    dry_run = serializers.BooleanField(help_text="Whether nothing of it is stored.")
    follows = serializers.UUIDField(allow_null=True, help_text="The dry run it follows.")
    withdraws = serializers.UUIDField(
        allow_null=True, help_text="The import of which it takes back what that made."
    )
    counts = CountsOut(help_text="So far; whole once the job is done.")
    job = JobOut(help_text="How far it is.")
    created_at = serializers.DateTimeField(help_text="When it was asked for.")


class ImportWithdrawalIn(StrictSerializer):
    """Why what an import made is taken back."""

    reason = TextField(max_length=500, help_text="Stands in the record of each thing.")


class RowProblemOut(serializers.Serializer):
    """One mistake in one row."""

    column = serializers.CharField(help_text="The table's column; empty: the row as a whole.")
    code = serializers.CharField(help_text="Which mistake; the list may grow.")
    detail = serializers.CharField(help_text="The same in words.")


class ImportRowOut(serializers.Serializer):
    """What became of one row."""

    row = serializers.IntegerField(help_text="Its number, from 1 after the heading.")
    outcome = serializers.ChoiceField(
        choices=ImportRow.Outcome.choices, help_text="What came of it; in a dry run, what would."
    )
    reference = serializers.CharField(help_text="Your own reference of its thing.")
    thing = serializers.UUIDField(allow_null=True, help_text="The id of its thing.")
    problems = RowProblemOut(many=True, help_text="Every mistake found in it.")
    warnings = RowProblemOut(many=True, help_text="What was done, and may not be what you meant.")


def import_row(found: Import) -> dict[str, Any]:
    """An import as the API gives it."""
    names = ("id", "kind", "source_sha256", "columns", "mapping", "dry_run", "counts", "created_at")
    own = {name: getattr(found, name) for name in names}
    return own | {
        "follows": found.follows_id,
        "withdraws": found.withdraws_id,
        "job": job_row(found.job),
    }


def fate_row(fate: ImportRow) -> dict[str, Any]:
    """What became of a row as the API gives it."""
    names = ("row", "outcome", "reference", "thing", "problems", "warnings")
    return {name: getattr(fate, name) for name in names}


class ImportsView(TenantView):
    """The tables your organization has had read."""

    scope = "imports"
    capabilities = KEEPERS
    parameters = {"get": paging.PARAMETERS}

    @extend_schema(operation_id="list_imports", responses=ImportOut(many=True))
    def get(self, request: Request) -> Response:
        """List imports, the latest first."""
        rows = Import.objects.select_related("job")
        return self.page(rows, order=("-created_at", "id"), row=import_row)

    @extend_schema(operation_id="import_table", request=ImportIn, responses={202: ImportOut})
    @idempotent(required=True)
    def post(self, request: Request) -> Response:
        """Have a table read, first as a dry run; the same table twice changes nothing.

        Rows are found again by your own reference. A chunk of rows is stored whole or, where one
        of them cannot be, not at all.
        """
        body = ImportIn(data=request.data)
        body.is_valid(raise_exception=True)
        given = dict(body.validated_data)
        options = {name: given[name] for name in _OPTIONS if name in given}
        options = {"chunk_size": CHUNK} | options
        if "site" in options:
            options["site"] = str(options["site"])
        found = ask_for_import(
            kind=given["kind"],
            source_sha256=given["source_sha256"],
            mapping=given.get("mapping", {}),
            options=options,
            dry_run=given["dry_run"],
            follows=given.get("follows"),
        )
        headers = {"Location": f"/v1/imports/{found.id}", "Retry-After": "1"}
        return Response(import_row(found), status=202, headers=headers)


class ImportView(TenantView):
    """One table that is read."""

    scope = "imports"

    @extend_schema(operation_id="read_import", responses=ImportOut)
    def get(self, request: Request, import_id: UUID) -> Response:
        """Read how far an import has come, and what came of its rows so far."""
        return Response(import_row(import_by_id(import_id)))


class ImportWithdrawalView(TenantView):
    """What one table made, taken back."""

    scope = "imports"
    capabilities = KEEPERS

    @extend_schema(
        operation_id="withdraw_import", request=ImportWithdrawalIn, responses={202: ImportOut}
    )
    @idempotent(required=False)
    def post(self, request: Request, import_id: UUID) -> Response:
        """Take back what an import made, where nothing has happened to it since.

        Answers another import, whose rows say of each thing whether it was taken back, or kept
        and why. A door is removed with your reason and its record stays; a reported visit is
        withdrawn. What the import changed in a thing that stood before stays changed.
        """
        body = ImportWithdrawalIn(data=request.data)
        body.is_valid(raise_exception=True)
        found = withdraw_import(import_id=import_id, **body.validated_data)
        headers = {"Location": f"/v1/imports/{found.id}", "Retry-After": "1"}
        return Response(import_row(found), status=202, headers=headers)


class ImportRowsView(TenantView):
    """The rows of one table."""

    scope = "imports"
    parameters = {"get": (OUTCOME, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_import_rows", responses=ImportRowOut(many=True))
    def get(self, request: Request, import_id: UUID) -> Response:
        """List what became of each row, with its mistakes by column and the id of its thing."""
        rows = ImportRow.objects.filter(of_import=import_by_id(import_id))
        if "outcome" in request.query_params:
            rows = rows.filter(outcome=request.query_params["outcome"])
        return self.page(rows, order=("row", "id"), row=fate_row)


class ImportTemplateView(TenantView):
    """A table to begin with."""

    scope = "imports"
    media_types = ("text/csv",)

    @extend_schema(
        operation_id="read_import_template",
        parameters=[OpenApiParameter("kind", str, OpenApiParameter.PATH, enum=KINDS)],
        responses={(200, "text/csv"): OpenApiTypes.BINARY},
    )
    def get(self, request: Request, kind: str) -> HttpResponse:
        """Read a table of that kind with its heading and one row of examples."""
        if kind not in settings.IMPORTS:
            raise NotVisibleError
        columns = kind_of_import(kind).columns
        example = {column.name: column.example for column in columns}
        content = csv_lines([c.name for c in columns], [example], heading=True)
        return file_response(content, media_type="text/csv", name=f"{kind}.csv")
