"""The API's own documentation: the OpenAPI document, its page, and the problems in words."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from itertools import groupby

import orjson
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import cache_control
from django.views.decorators.http import condition, require_safe
from drf_spectacular.generators import SchemaGenerator

from doors.api.problems import PROBLEMS, ProblemType

OFTEN_READ = cache_control(public=True, max_age=300)  # seconds; the same for everybody


@lru_cache(maxsize=1)
def openapi_bytes() -> bytes:
    """Return the OpenAPI document; it changes only with the code, so it is generated once."""
    schema = SchemaGenerator().get_schema(request=None, public=True)
    return orjson.dumps(schema, option=orjson.OPT_NON_STR_KEYS)


def _openapi_tag(request: HttpRequest) -> str:
    return f'"{hashlib.sha256(openapi_bytes()).hexdigest()}"'


@require_safe
@condition(etag_func=_openapi_tag)
def openapi(request: HttpRequest) -> HttpResponse:
    """Answer the OpenAPI document."""
    return HttpResponse(openapi_bytes(), content_type="application/json")


@require_safe
@OFTEN_READ
def reference(request: HttpRequest) -> HttpResponse:
    """Answer the page on which the OpenAPI document is read and tried, from our own files."""
    return render(request, "docs/reference.html")


@require_safe
@OFTEN_READ
def guide(request: HttpRequest) -> HttpResponse:
    """Answer the integrator's way from a key to a webhook; the tests run every command of it."""
    return render(request, "docs/guide.html", {"tokens": settings.OAUTH_TOKENS})


@require_safe
@OFTEN_READ
def problems(request: HttpRequest) -> HttpResponse:
    """Answer every kind of problem in plain words; each one's `type` points to its place here."""
    ordered = sorted(PROBLEMS.values(), key=lambda problem: problem.status)
    by_status = [
        (status, [_shown(kind) for kind in kinds])
        for status, kinds in groupby(ordered, lambda problem: problem.status)
    ]
    return render(request, "docs/problems.html", {"by_status": by_status})


def _shown(problem: ProblemType) -> dict[str, object]:
    """Return what the page shows; every second part of the explanation stood in backticks."""
    parts = [(at % 2 == 1, part) for at, part in enumerate(problem.explanation.split("`"))]
    return {"code": problem.code, "title": problem.title, "explanation": parts}
