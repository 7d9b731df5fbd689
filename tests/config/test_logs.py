"""What is written: ids of request and organization; no key, no body, no value of any row."""

from __future__ import annotations

import io
import json
import logging
import sys
from collections.abc import Iterator
from typing import Any
from uuid import uuid4

import pytest
import structlog
from django.conf import settings
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.test.utils import override_settings

from config.logs import logging_to, without_messages
from doors.models import Job, Organization
from doors.services.jobs import ask_for_job, run_waiting_jobs
from doors.tenancy import Purpose, acting_for, looking_up
from tests.cast import Cast
from tests.clients import client_of
from tests.doors.callers import caller

CANARY = "c4n4ry" * 5


@pytest.fixture
def written() -> Iterator[io.StringIO]:
    """Whatever the service's own handler writes, as in production, down to DEBUG."""
    text = io.StringIO()
    form = logging_to("json", level="DEBUG")["formatters"]["lines"]
    handler = logging.StreamHandler(text)
    handler.setFormatter(
        structlog.stdlib.ProcessorFormatter(**{k: form[k] for k in form if k != "()"})
    )
    root = logging.getLogger()
    level = root.level
    root.addHandler(handler)
    root.setLevel(logging.DEBUG)
    yield text
    root.removeHandler(handler)
    root.setLevel(level)


def lines(written: io.StringIO) -> list[dict[str, Any]]:
    """Return the lines written so far."""
    return [json.loads(line) for line in written.getvalue().splitlines()]


@pytest.mark.django_db
@override_settings(ROOT_URLCONF="tests.doors.routes")
def test_nothing_that_was_sent_is_written(written: io.StringIO) -> None:
    """Bodies, headers, queries, keys good and bad, and paths; on success, refusal and failure."""
    inspector = caller()
    headers = {"Idempotency-Key": CANARY, "X-Canary": CANARY}
    made = inspector.post("/v1/notes", {"key": CANARY}, format="json", headers=headers)
    inspector.post("/v1/notes", {"key": CANARY, "x": CANARY}, format="json", headers=headers)
    inspector.post(f"/v1/notes/{made.json()['id']}", {"key": CANARY}, format="json")
    inspector.get(f"/v1/notes?order={CANARY}")
    inspector.get(f"/{CANARY}")
    inspector.credentials(HTTP_AUTHORIZATION=f"Bearer fdk_{CANARY}")
    inspector.get("/v1/notes")
    told = lines(written)
    assert {line["code"] for line in told if "code" in line} >= {201, 400, 401, 404, 500}
    assert CANARY not in written.getvalue()
    assert inspector.key not in written.getvalue()
    assert inspector.key.split("_")[2] not in written.getvalue()
    failed = next(line for line in told if line["event"] == "request_failed")
    kind = "builtins.LookupError"
    if connection.vendor == "postgresql":
        kind = "psycopg.errors.InsufficientPrivilege (42501)"  # it may not even write that
    assert failed["exception"].startswith(f"{kind}\n")
    assert "a secret of the inside" not in written.getvalue()
    assert failed["organization_id"] == str(inspector.organization.id)


@pytest.mark.django_db
def test_what_a_database_refuses_is_named_without_its_values(written: io.StringIO) -> None:
    """The state and the constraint stand, the row does not."""
    log = structlog.get_logger("tests")
    with looking_up(Purpose.SET_UP, write=True) as context:
        given = {"id": uuid4(), "name": CANARY, "created_at": context.now}
        Organization.objects.create(**given)
        for wrong in (given, {**given, "id": uuid4(), "name": CANARY * 100}):
            try:
                with transaction.atomic():
                    Organization.objects.create(**wrong)
            except DatabaseError:
                log.exception("refused")
    assert CANARY not in written.getvalue()
    refused = [line["exception"] for line in lines(written) if line["event"] == "refused"]
    expected = (
        "23505, doors_organization_pkey" if connection.vendor == "postgresql" else "_PRIMARYKEY"
    )
    assert expected in refused[0]
    assert "django.db.utils.IntegrityError" in refused[0]


def test_every_form_of_an_exception_loses_its_message() -> None:
    """As a tuple, as itself, and as what some libraries put beside it."""
    try:
        try:
            int(CANARY)
        except ValueError as error:
            raise IntegrityError(CANARY) from error
    except IntegrityError as error:
        forms: list[dict[str, object]] = [
            {"exc_info": sys.exc_info()},
            {"exc_info": error},
            {"exception": error, "error": str(error)},
        ]
    for form in forms:
        told = without_messages(None, "", {"event": "x", **form})
        assert CANARY not in str(told)
        assert "ValueError" in told["exception"]
        assert "IntegrityError" in told["exception"]
        assert "test_logs.py" in told["exception"]


def test_a_job_is_done_on_account_of_its_request(cast: Cast, written: io.StringIO) -> None:
    """The id at the edge is the job's, and stands on what the worker writes of it."""
    firm, request_id = client_of(cast.firm), str(uuid4())
    sent = {"site": str(cast.site.id)}
    headers = {"X-Request-Id": request_id}
    answer = firm.post("/v1/submittals", sent, format="json", headers=headers)
    assert answer["X-Request-Id"] == request_id
    with acting_for(cast.firm.id, write=True):
        assert str(Job.objects.get(id=answer.json()["id"]).request_id) == request_id
        beside = ask_for_job(kind="unknown_to_everybody", arguments={})
    assert beside.request_id is None
    with override_settings(JOBS={**settings.JOBS, "assemble_submittal": "tests.nowhere"}):
        run_waiting_jobs()
    failed = [line for line in lines(written) if line["event"] == "claim_failed"]
    assert {line.get("request_id") for line in failed} == {request_id, None}
    assert {line["organization_id"] for line in failed} == {str(cast.firm.id)}
