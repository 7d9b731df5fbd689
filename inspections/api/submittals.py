"""Submittals, filings, the authority's feed: `/v1/submittals`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.core.files.storage import default_storage
from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api import paging
from doors.api.base import TenantView
from doors.api.fields import IdField, ProseField, StrictSerializer, TextField
from doors.api.files import file_response
from doors.api.jobs import JobOut, accepted
from doors.api.openings import SITE
from doors.api.queries import parameter, uuid_parameter
from doors.models import Capability
from inspections.models import Amendment, FeedChange, Filing, Submittal
from inspections.selectors.submittals import changes_after, submittal_by_id, submittals_shown
from inspections.services.answers import answer_filing
from inspections.services.submittals import (
    ask_for_submittal,
    file_submittal,
    note_readings,
    path_of,
)
from inspections.states import FILING

AFTER = OpenApiParameter(
    "after",
    {"type": "integer", "minimum": 0, "default": 0},
    description="The position of the last change you have stored.",
)
_FILERS = frozenset({Capability.OWNER, Capability.INSPECTOR})


class SubmittalIn(StrictSerializer):
    """A packet to be assembled."""

    site = IdField()


class FilingIn(StrictSerializer):
    """With whom a packet is filed."""

    jurisdiction = TextField(
        max_length=60,
        required=False,
        help_text="Code of the place; where absent the nearest that has an authority here.",
    )


class AnswerIn(StrictSerializer):
    """What an authority says of a packet."""

    state = serializers.ChoiceField(
        choices=["accepted", "returned"], help_text="Whether it is taken as it is."
    )
    remarks = ProseField(
        required=False, allow_blank=True, help_text="What is wanting; needed to return it."
    )


class FilingOut(serializers.Serializer):
    """A submittal handed to an authority."""

    id = serializers.UUIDField()
    submittal = serializers.UUIDField()
    authority = serializers.CharField()
    state = serializers.ChoiceField(choices=sorted(FILING))
    filed_at = serializers.DateTimeField()
    filed_by = serializers.CharField()
    remarks = serializers.CharField(help_text="Of the authority, with its answer; may be empty.")
    answered_at = serializers.DateTimeField(
        allow_null=True, help_text="When the authority answered; null while it has not."
    )


class AmendmentOut(serializers.Serializer):
    """A visit in a filed packet was corrected since."""

    visit = serializers.UUIDField(help_text="As it stands in the packet.")
    corrected_by = serializers.UUIDField(help_text="The visit that stands in its place.")
    author = serializers.CharField()
    reason = serializers.CharField()
    recorded_at = serializers.DateTimeField()


class MissingAttachmentOut(serializers.Serializer):
    """A photo or a paper that a visit of the packet names and that was not sent."""

    opening = serializers.CharField(help_text="Tag of the opening.")
    visit = serializers.UUIDField(help_text="The visit that names it.")
    sha256 = serializers.CharField(help_text="Of its bytes; send them to /v1/blobs.")


class SubmittalOut(serializers.Serializer):
    """A frozen packet."""

    id = serializers.UUIDField()
    site = serializers.UUIDField()
    version = serializers.IntegerField()
    assembled_at = serializers.DateTimeField()
    assembled_by = serializers.CharField()
    content_sha256 = serializers.CharField(help_text="Printed inside the file.")
    file_sha256 = serializers.CharField(help_text="Of the bytes at `/file`.")
    file_size = serializers.IntegerField()
    counts = serializers.DictField(help_text="Visits by verdict, and the coverage in words.")
    missing_attachments = MissingAttachmentOut(
        many=True,
        help_text="Named by its visits, not sent when it was assembled: with one, it is not filed.",
    )
    filings = FilingOut(many=True)
    amended_since = AmendmentOut(
        many=True, help_text="Visits in it that were corrected after it was filed."
    )


class ChangeOut(serializers.Serializer):
    """One change of a filing at one position of the authority's feed."""

    position = serializers.IntegerField()
    submittal = serializers.UUIDField()
    filing = serializers.UUIDField()
    state = serializers.ChoiceField(choices=sorted(FILING))
    changed_at = serializers.DateTimeField()


class ChangesOut(serializers.Serializer):
    """Changes in commit order; ask again with `after` = the last position you stored."""

    data = ChangeOut(many=True)  # type: ignore[assignment]  # shadows what nobody asks of a shape
    last = serializers.IntegerField(help_text="The last position given here, or `after` itself.")


def filing_row(filing: Filing) -> dict[str, Any]:
    """A filing as the API gives it."""
    return {
        "id": filing.id,
        "submittal": filing.submittal_id,
        "authority": filing.authority_name,
        "state": filing.state,
        "filed_at": filing.filed_at,
        "filed_by": filing.author_name,
        "remarks": filing.remarks,
        "answered_at": filing.answered_at,
    }


def submittal_row(submittal: Submittal) -> dict[str, Any]:
    """A submittal as the API gives it, with those of its filings that the caller may see."""
    names = ("id", "version", "assembled_at", "content_sha256", "file_sha256", "file_size")
    return {name: getattr(submittal, name) for name in names} | {
        "site": submittal.site_id,
        "assembled_by": submittal.author_name,
        "counts": submittal.counts,
        "missing_attachments": submittal.missing_attachments,
        "filings": [filing_row(f) for f in submittal.filings.all()],
        "amended_since": [_amendment(a) for a in submittal.amendments.all()],
    }


def _amendment(amendment: Amendment) -> dict[str, Any]:
    return {
        "visit": amendment.visit_id,
        "corrected_by": amendment.corrected_by_id,
        "author": amendment.author_name,
        "reason": amendment.reason,
        "recorded_at": amendment.recorded_at,
    }


class SubmittalsView(TenantView):
    """The packets you assembled, of your sites, or filed to you."""

    scope = "submittals"
    capabilities = _FILERS
    budgets = {"post": "long_work"}
    parameters = {"get": (SITE, *paging.PARAMETERS)}

    @extend_schema(operation_id="list_submittals", responses=SubmittalOut(many=True))
    def get(self, request: Request) -> Response:
        """List submittals, the latest assembled first."""
        rows = submittals_shown()
        site_id = uuid_parameter(request, "site")
        if site_id is not None:
            rows = rows.filter(site_id=site_id)
        response = self.page(rows, order=("-assembled_at", "id"), row=submittal_row)
        listed = rows.filter(id__in=[row["id"] for row in response.data["data"]])
        note_readings(submittals=listed, what="list")
        return response

    @extend_schema(operation_id="assemble_submittal", request=SubmittalIn, responses={202: JobOut})
    def post(self, request: Request) -> Response:
        """Assemble a packet of one site as it stands now; answers with a job."""
        body = SubmittalIn(data=request.data)
        body.is_valid(raise_exception=True)
        return accepted(ask_for_submittal(site_id=body.validated_data["site"]))


class SubmittalView(TenantView):
    """One packet."""

    scope = "submittals"

    @extend_schema(operation_id="read_submittal", responses=SubmittalOut)
    def get(self, request: Request, submittal_id: UUID) -> Response:
        """Read what a packet is, without its content."""
        submittal = submittal_by_id(submittal_id)
        note_readings(submittals=[submittal], what="summary")
        return Response(submittal_row(submittal))


class SubmittalFileView(TenantView):
    """The file of one packet."""

    scope = "submittals"
    media_types = ("application/pdf",)
    budgets = {"get": "files", "head": "files"}

    @extend_schema(
        operation_id="read_submittal_file",
        responses={(200, "application/pdf"): OpenApiTypes.BINARY},
    )
    def get(self, request: Request, submittal_id: UUID) -> HttpResponse:
        """Read the file exactly as it was sealed."""
        submittal = submittal_by_id(submittal_id)
        note_readings(submittals=[submittal], what="file")
        with default_storage.open(path_of(submittal.file_sha256)) as stored:
            content = stored.read()
        return file_response(content, media_type="application/pdf", name=submittal.file_name)


class SubmittalFilingsView(TenantView):
    """The filings of one packet."""

    scope = "submittals"
    capabilities = _FILERS

    @extend_schema(operation_id="file_submittal", request=FilingIn, responses={201: FilingOut})
    def post(self, request: Request, submittal_id: UUID) -> Response:
        """File a packet with an authority of its site.

        One whose visits name photos or papers that were still to be sent when it was assembled is
        refused, each named in `errors`: send them, assemble the packet again, and file that one.
        """
        body = FilingIn(data=request.data)
        body.is_valid(raise_exception=True)
        code = body.validated_data.get("jurisdiction", "")
        filing = file_submittal(submittal_id=submittal_id, jurisdiction_code=code)
        return Response(filing_row(filing), status=201)


class SubmittalAnswerView(TenantView):
    """The authority's answer to one packet."""

    scope = "submittals"
    capabilities = frozenset({Capability.AUTHORITY})

    @extend_schema(operation_id="answer_submittal", request=AnswerIn, responses=FilingOut)
    def post(self, request: Request, submittal_id: UUID) -> Response:
        """Accept a packet that was filed to you, or return it with remarks."""
        body = AnswerIn(data=request.data)
        body.is_valid(raise_exception=True)
        return Response(filing_row(answer_filing(submittal_id=submittal_id, **body.validated_data)))


class SubmittalChangesView(TenantView):
    """Everything filed to you, in the order in which it was committed."""

    scope = "submittals"
    capabilities = frozenset({Capability.AUTHORITY})
    parameters = {"get": (AFTER, paging.LIMIT)}

    @extend_schema(operation_id="list_submittal_changes", responses=ChangesOut)
    def get(self, request: Request) -> Response:
        """Read the changes after a position: store them together with `last`, and none is
        missed or repeated.
        """
        after = (
            parameter(request, "after", serializers.IntegerField(min_value=0, max_value=2**53)) or 0
        )
        limit = parameter(
            request, "limit", serializers.IntegerField(min_value=1, max_value=paging.MAX_LIMIT)
        )
        changes = changes_after(after, limit or paging.DEFAULT_LIMIT)
        note_readings(submittals=[change.submittal for change in changes], what="feed")
        last = changes[-1].position if changes else after
        return Response({"data": [_change(c) for c in changes], "last": last})


def _change(change: FeedChange) -> dict[str, Any]:
    return {
        "position": change.position,
        "submittal": change.submittal_id,
        "filing": change.filing_id,
        "state": change.state,
        "changed_at": change.changed_at,
    }
