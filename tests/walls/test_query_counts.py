"""A list costs the same number of queries whatever stands on it: every list of the URL table."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import Any, NamedTuple
from uuid import UUID, uuid4

import pytest
from django.conf import settings
from django.db import connection, models
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver
from rest_framework.test import APIClient

from doors.api.paging import CURSOR, MAX_LIMIT
from doors.models import (
    Battery,
    Blob,
    Custody,
    CustodyOffer,
    Device,
    DoorCode,
    Export,
    Grant,
    Import,
    ImportRow,
    Invitation,
    Jurisdiction,
    Key,
    LedgerEntry,
    Member,
    Opening,
    OpeningFacts,
    OpeningTag,
    Organization,
    Outage,
    Override,
    Person,
    Photo,
    Sandbox,
    SandboxMessage,
    Sight,
    Site,
    SitePlace,
)
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import acting_for
from inspections.models import (
    Deficiency,
    DeficiencyGroup,
    Duty,
    FrozenUntestedItem,
    Notice,
    ReadLine,
    ReportedVisit,
    Submittal,
    UntestedItem,
    Visit,
    Webhook,
    WebhookDelivery,
)
from inspections.services.owings import expand_waiting_owings
from tests.config.test_schema import routes
from tests.walls.test_other_tenants import stage  # noqa: F401 (a fixture)

SIZES = (1, 10, 100)


class Listed(NamedTuple):
    """Who lists rows of which table, and what must differ between two of them."""

    who: str
    model: type[models.Model]
    vary: Callable[[int], dict[str, Any]] = lambda _: {}


def _uncorrecting(number: int) -> dict[str, Any]:
    """A visit of its own reference that corrects none: each is corrected once."""
    return {"client_ref": f"v-{number}", "supersedes_id": None}


def _past(at: int) -> dict[str, Any]:
    return {"begins_on": date(1900 + at, 1, 1), "ends_on": date(1901 + at, 1, 1)}


# A new list without a row here fails.
LISTS = {
    "/v1/authority-reads": Listed("owner", ReadLine),
    "/v1/blobs": Listed("firm", Blob, lambda n: {"sha256": f"{n:064x}"}),
    "/v1/custody-offers": Listed("owner", CustodyOffer, lambda _: {"state": "withdrawn"}),
    "/v1/deficiencies": Listed("owner", Deficiency, lambda n: {"subject": f"s-{n}"}),
    "/v1/deficiency-groups": Listed("owner", DeficiencyGroup),
    "/v1/duties": Listed("owner", Duty, lambda n: {"requirement": f"r-{n}"}),
    "/v1/exports": Listed("owner", Export),
    "/v1/imports": Listed("owner", Import),
    "/v1/imports/{import_id}/rows": Listed("owner", ImportRow, lambda n: {"row": 100 + n}),
    "/v1/grants": Listed("owner", Grant),
    "/v1/jurisdictions": Listed("owner", Jurisdiction, lambda n: {"code": f"us-{n}"}),
    "/v1/keys": Listed("owner", Key, lambda n: {"lookup": f"{n:016x}"}),
    "/v1/ledger": Listed("owner", LedgerEntry),
    "/v1/members": Listed("owner", Member, lambda _: {"ends_at": datetime(2100, 1, 1, tzinfo=UTC)}),
    "/v1/notices": Listed("owner", Notice, lambda _: {"thing": uuid4()}),
    "/v1/openings": Listed("owner", Opening, lambda n: {"tag": f"t-{n}"}),
    "/v1/openings/{opening_id}/batteries": Listed("owner", Battery),
    "/v1/openings/{opening_id}/devices": Listed("owner", Device),
    "/v1/openings/{opening_id}/door-codes": Listed(
        "owner", DoorCode, lambda n: {"code_sha256": f"{n:064x}"}
    ),
    "/v1/openings/{opening_id}/facts": Listed("owner", OpeningFacts),
    "/v1/openings/{opening_id}/history": Listed("owner", Visit, _uncorrecting),
    "/v1/openings/{opening_id}/outages": Listed("owner", Outage, _past),
    "/v1/openings/{opening_id}/photos": Listed("owner", Photo, lambda n: {"sha256": f"{n:064x}"}),
    "/v1/openings/{opening_id}/tags": Listed("owner", OpeningTag, _past),
    "/v1/organizations": Listed("owner", Organization, lambda n: {"reference": f"o-{n}"}),
    "/v1/organizations/{organization_id}/invitations": Listed(
        "owner", Invitation, lambda n: {"token_sha256": f"{n:064x}"}
    ),
    "/v1/overrides": Listed("authority", Override),
    "/v1/people": Listed("owner", Person),
    "/v1/reported-visits": Listed("owner", ReportedVisit, lambda n: {"client_ref": f"r-{n}"}),
    "/v1/sandboxes": Listed("owner", Sandbox),
    "/v1/sandboxes/{sandbox_id}/messages": Listed("owner", SandboxMessage),
    "/v1/sites": Listed("owner", Site, lambda n: {"reference": f"s-{n}"}),
    "/v1/sites/{site_id}/custody": Listed("owner", Custody, _past),
    "/v1/sites/{site_id}/initiating-devices": Listed(
        "owner", Device, lambda n: {"kind": "smoke_detector", "reference": f"d-{n}"}
    ),
    "/v1/sites/{site_id}/places": Listed("owner", SitePlace, _past),
    "/v1/submittals": Listed("firm", Submittal),
    "/v1/submittals/untested": Listed("authority", FrozenUntestedItem),
    "/v1/untested": Listed("owner", UntestedItem, lambda n: {"requirement": f"r-{n}"}),
    "/v1/visits": Listed("owner", Visit, _uncorrecting),
    "/v1/webhook-deliveries": Listed("firm", WebhookDelivery, lambda _: {"event": uuid4()}),
    "/v1/webhooks": Listed("firm", Webhook),
}


def lists() -> set[str]:
    """Every address of the URL table whose GET has pages."""
    return {
        path
        for path, view in routes(get_resolver().url_patterns)
        if CURSOR in getattr(view, "parameters", {}).get("get", ())
    }


def test_every_list_has_a_row_here() -> None:
    """None is forgotten, and none is listed that is gone."""
    assert lists() == set(LISTS)


@contextmanager
def as_owner_of_the_tables() -> Iterator[None]:
    """Write around the walls: what is proven here is reading."""
    if connection.vendor != "postgresql":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE")
        yield
        cursor.execute(f"SET ROLE {settings.RUNTIME_ROLE}")


def multiply(listed: Listed, first: models.Model, times: range) -> None:
    """Write copies of a row, each with an id of its own; a site is seen by copies of its sight."""
    if isinstance(first, LedgerEntry):
        lines = [LedgerLine("noted", uuid4(), None, {}) for _ in times]
        with acting_for(first.organization_id, write=True):
            write_ledger(custodian_id=first.organization_id, lines=lines)
        return
    made = []
    for at in times:
        twin = copy.copy(first)
        twin._state = copy.copy(first._state)  # noqa: SLF001 (else relations are shared)
        twin._state.fields_cache = {}  # noqa: SLF001
        twin.pk = uuid4() if isinstance(first.pk, UUID) else None
        for name, value in listed.vary(at).items():
            setattr(twin, name, value)
        if isinstance(twin, Organization):
            twin.author_id = first.pk  # one that it made is one that it sees
        made.append(twin)
    listed.model._base_manager.bulk_create(made)
    if listed.model is Site:
        sights = list(Sight._base_manager.filter(site_id=first.pk))
        copies = [(sight, twin) for sight in sights for twin in made]
        rows = [_sight(sight, twin.pk) for sight, twin in copies]
        Sight._base_manager.bulk_create(rows)


def _sight(sight: Sight, site_id: object) -> Sight:
    twin = copy.copy(sight)
    twin.pk = uuid4() if isinstance(sight.pk, UUID) else None
    twin.site_id = site_id  # type: ignore[assignment]
    return twin


@pytest.mark.parametrize("address", LISTS)
def test_a_list_costs_the_same_whatever_stands_on_it(
    stage: tuple[dict[str, APIClient], dict[str, UUID]],  # noqa: F811 (the fixture)
    address: str,
) -> None:
    """One, ten and a hundred rows more: the same number of queries, and the rows are there."""
    clients, ids = stage
    listed = LISTS[address]
    expand_waiting_owings()
    if listed.model is ReadLine:
        clients["authority"].get(f"/v1/submittals/{ids['submittal']}")
    client = clients[listed.who]
    places = {f"{name}_id": id_ for name, id_ in ids.items()}
    asked = f"{address.format(**places)}?limit={MAX_LIMIT}"
    with as_owner_of_the_tables():
        first = (
            listed.model._base_manager.order_by("pk").filter(**_own(listed, address, ids)).first()
        )
    assert first is not None
    standing, costs, written = len(client.get(asked).json()["data"]), [], 0
    for size in SIZES:
        with as_owner_of_the_tables():
            multiply(listed, first, range(written, size))
        written = size
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(asked)
        assert len(answer.json()["data"]) == standing + size
        costs.append(len(queries))
    assert len(set(costs)) == 1, costs


def _own(listed: Listed, address: str, ids: dict[str, UUID]) -> dict[str, Any]:
    """Return what makes a row one of the owner's site, where it hangs under one."""
    of_its_own: dict[type[models.Model], dict[str, Any]] = {
        Blob: {"sha256": ids["sha256"]},  # the firm's: the owner keeps one too
        ImportRow: {"of_import_id": ids["import"]},
        Grant: {"owner_id": ids["organization"], "site": None},
        LedgerEntry: {"site_id": ids["site"]},
        Opening: {"id": ids["opening"]},  # others of the site may be gone
        Organization: {"id": ids["organization"]},
        Site: {"id": ids["site"]},
    }
    for named in (Invitation, Key, Member, Person):
        of_its_own[named] = {"organization_id": ids["organization"]}
    if listed.model in of_its_own:
        return of_its_own[listed.model]
    names = {field.name for field in listed.model._meta.get_fields()}
    if "{opening_id}" in address and "opening" in names:
        return {"opening_id": ids["opening"]}
    return {"site_id": ids["site"]} if "site" in names else {}
