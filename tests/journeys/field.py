"""The stage of the scenarios: the cast over HTTP, a worker that does what waits, and what stands
at the end of a day for one opening.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar
from uuid import UUID, uuid4

from doors.models import EVERY_SCOPE, Organization
from doors.services.keys import issue_key
from doors.tenancy import acting_for
from inspections.management.client import Client
from tests.cast import Cast

Found = TypeVar("Found")
Answer = dict[str, Any]


class Field:
    """Everybody of the cast at the address of a live service."""

    def __init__(self, address: str, cast: Cast, settle: Callable[[], None], mail: Path) -> None:
        """`settle` has the waiting work done; the mails sent lie in `mail`."""
        self.address, self.cast, self.mail = address, cast, mail
        self.settle = settle
        self._clients: dict[UUID, Client] = {}
        self.owner = self.client(cast.owner)
        self.firm = self.client(cast.firm)
        self.authority = self.client(cast.authority)

    def client(self, organization: Organization) -> Client:
        """The organization's client, with a key of every scope."""
        if organization.id not in self._clients:
            with acting_for(organization.id, write=True):
                _, text = issue_key(label=f"field {uuid4()}", scopes=EVERY_SCOPE)
            self._clients[organization.id] = Client(self.address, text)
        return self._clients[organization.id]

    def close(self) -> None:
        """Everybody leaves."""
        for client in self._clients.values():
            client.close()

    def visit(
        self, opening: UUID, findings: Mapping[str, Any], *, by: Client | None = None, **more: Any
    ) -> Answer:
        """Send one visit, an hour ago where no time is given; answers the judged visit."""
        body = visit_body(opening, findings, **more)
        return (by or self.firm).post("/v1/visits", body, once=str(uuid4()))

    def state(self, opening: UUID, *, seen_by: Client | None = None) -> Answer:
        """All that stands about one opening when the waiting work is done, as its owner reads it:
        visits, duties, deficiencies, notices and the owner's ledger, oldest first.
        """
        self.settle()
        client = seen_by or self.owner
        mine = str(opening)
        visits = list(client.every("/v1/visits", opening=mine))
        found = {
            "visits": [
                (v["activity"], v["verdict"], v["complete"], v["superseded_by"] is not None)
                for v in sorted(visits, key=lambda v: v["received_at"])
            ],
            "duties": {
                d["requirement"]: (d["state"], d["due_on"])
                for d in client.every("/v1/duties")
                if d["opening"] == mine
            },
            "deficiencies": sorted(
                (d["subject"], d["state"], d["guarded"])
                for d in client.every("/v1/deficiencies")
                if d["opening"] == mine
            ),
        }
        if client is self.owner:
            found["notices"] = sorted(
                (n["stage"], n["person"], n["state"]) for n in client.every("/v1/notices")
            )
            found["ledger"] = [json.loads(e["body"])["kind"] for e in client.every("/v1/ledger")]
        return found


def visit_body(
    opening: UUID,
    findings: Mapping[str, Any],
    *,
    activity: str = "periodic_inspection",
    at: datetime | None = None,
    **more: Any,
) -> Answer:
    """What an app sends of one attendance; an hour ago where no time is given."""
    performed = at or datetime.now(UTC).replace(microsecond=0) - timedelta(hours=1)
    attested = {"name": findings["people"][0]["name"], "at": performed.isoformat()}
    return {
        "opening": str(opening),
        "client_ref": str(uuid4()),
        "activity": activity,
        "performed_at": performed.isoformat(),
        **findings,
        "attestation": attested,
        **more,
    }


@contextmanager
def field_at(address: str, cast: Cast, settle: Callable[[], None], mail: Path) -> Iterator[Field]:
    """The field, left by everybody at the end."""
    field = Field(address, cast, settle, mail)
    try:
        yield field
    finally:
        field.close()
