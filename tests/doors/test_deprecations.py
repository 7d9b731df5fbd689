"""What is to end says so on every answer, in the document, and to whoever counts its uses."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.test.utils import override_settings
from drf_spectacular.generators import SchemaGenerator
from structlog.testing import capture_logs

from doors.api.deprecations import Deprecation, used
from tests.doors.callers import caller

SINCE = datetime(2026, 1, 1, tzinfo=UTC)


@pytest.mark.django_db
@override_settings(ROOT_URLCONF="tests.doors.routes")
def test_every_answer_of_it_says_so() -> None:
    """On a page beside its own link, on a refusal, on what the caller has; once each."""
    inspector = caller()
    for key in ("a", "b"):
        inspector.post("/v1/notes", {"key": key}, format="json", headers={"Idempotency-Key": key})
    page = inspector.get("/v1/old-notes?limit=1")
    known = inspector.get("/v1/old-notes?limit=1", headers={"If-None-Match": page["ETag"]})
    refused = inspector.get("/v1/old-notes?limit=0")
    assert [each.status_code for each in (page, known, refused)] == [200, 304, 400]
    for answer in (page, known, refused, inspector.head("/v1/old-notes")):
        assert answer["Deprecation"] == f"@{int(SINCE.timestamp())}"
        assert answer["Sunset"] == "Fri, 01 Jan 2027 00:00:00 GMT"
        assert answer["Link"].count('</docs/old-notes>; rel="deprecation"; type="text/html"') == 1
    assert 'rel="next", <' in page["Link"]
    assert "Deprecation" not in inspector.get("/v1/notes")


@pytest.mark.django_db
@override_settings(ROOT_URLCONF="tests.doors.routes")
def test_its_uses_are_counted_by_key() -> None:
    """Once a request, with the key in the log and the operation in the counts."""
    inspector = caller()
    count = used.labels("get OldNotesView")
    before = count._value.get()  # noqa: SLF001 (the library has no other way)
    with capture_logs() as lines:
        inspector.get("/v1/old-notes")
        inspector.get("/v1/notes")
    assert count._value.get() == before + 1  # noqa: SLF001
    assert [line["operation"] for line in lines if line["event"] == "deprecated_use"] == [
        "get OldNotesView"
    ]


def test_the_document_marks_it() -> None:
    """And describes the headers; nothing else is marked."""
    paths = SchemaGenerator(urlconf="tests.doors.routes").get_schema(request=None, public=True)[
        "paths"
    ]
    old = paths["/v1/old-notes"]["get"]
    assert old["deprecated"] is True
    assert {"Deprecation", "Sunset"} <= set(old["responses"]["200"]["headers"])
    marked = [
        path
        for path, item in paths.items()
        if any(each.get("deprecated") for each in item.values())
    ]
    assert marked == ["/v1/old-notes"]


def test_nothing_ends_before_it_is_deprecated() -> None:
    """RFC 8594's date is not earlier than RFC 9745's."""
    with pytest.raises(ValueError, match="before"):
        Deprecation(since=SINCE, sunset=SINCE - timedelta(days=1), explained_at="/docs")
