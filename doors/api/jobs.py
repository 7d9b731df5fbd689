"""Long work: `/v1/jobs/{id}`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from doors.api.base import TenantView
from doors.models import Job
from doors.selectors.visible import visible

WORDS = {"waiting": "waiting", "claimed": "running", "done": "done", "failed": "failed"}


class JobOut(serializers.Serializer):
    """A piece of long work."""

    id = serializers.UUIDField()
    kind = serializers.CharField()
    state = serializers.ChoiceField(choices=sorted(WORDS.values()))
    done = serializers.IntegerField()
    total = serializers.IntegerField()
    result = serializers.DictField(allow_null=True)
    problem = serializers.DictField(allow_null=True)


def job_row(job: Job) -> dict[str, Any]:
    """A job as the API gives it."""
    return {
        "id": job.id,
        "kind": job.kind,
        "state": WORDS[job.state],
        "done": job.done,
        "total": job.total,
        "result": job.result,
        "problem": job.problem,
    }


def accepted(job: Job) -> Response:
    """202 with the address at which to watch the job."""
    headers = {"Location": f"/v1/jobs/{job.id}", "Retry-After": "1"}
    return Response(job_row(job), status=202, headers=headers)


class JobView(TenantView):
    """One piece of long work."""

    scope = "jobs"

    @extend_schema(operation_id="read_job", responses=JobOut)
    def get(self, request: Request, job_id: UUID) -> Response:
        """Read how far a job has come."""
        job = visible(Job.objects.filter(id=job_id))
        return Response(job_row(job))
