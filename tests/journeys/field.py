"""The stage of the scenarios: the cast over HTTP, a worker that does what waits, and what stands
at the end of a day for one opening.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar
from uuid import UUID, uuid4

import pypdf

from doors.models import EVERY_SCOPE, Organization
from doors.selectors.openings import opening_by_id
from doors.services.keys import issue_key
from doors.tenancy import acting_for
from inspections.management.client import Client
from tests.cast import FACTS, Cast, conforming

Found = TypeVar("Found")
Answer = dict[str, Any]
REMINDERS = {"before_due", "due", "overdue"}
OVERDUE = ("overdue", "Ada Quist", "sent")  # at first of the acceptance test nobody made
AT_ANY_HOUR = {
    "send_at": "00:00",
    "quiet_from": "00:00",
    "quiet_until": "00:00",
    "working_days": [1, 2, 3, 4, 5, 6, 7],
    "public_holidays": False,
}


class Caller(Client):
    """A client that also changes what has a version, and sends files."""

    def put(self, path: str, body: Mapping[str, Any]) -> Answer:
        """Set what stands at a path, whatever its version."""
        return self._changed("PUT", path, body)

    def patch(self, path: str, body: Mapping[str, Any]) -> Answer:
        """Change what stands at a path, whatever its version."""
        return self._changed("PATCH", path, body)

    def _changed(self, method: str, path: str, body: Mapping[str, Any]) -> Answer:
        self._headers["If-Match"] = "*"
        try:
            return self._json(self._ask(method, path, body=body), path, 200)
        finally:
            del self._headers["If-Match"]

    def upload(self, content: bytes, media_type: str) -> str:
        """Send a file; answers its digest."""
        headers = {**self._headers, "Content-Type": media_type}
        response = self._pool.request("POST", "/v1/blobs", body=content, headers=headers)
        known = 200 if response.status == 200 else 201
        return str(self._json(response, "/v1/blobs", known)["sha256"])


class Field:
    """Everybody of the cast at the address of a live service."""

    def __init__(self, address: str, cast: Cast, settle: Callable[[], None], mail: Path) -> None:
        """`settle` has the waiting work done; the mails sent lie in `mail`."""
        self.address, self.cast, self.mail = address, cast, mail
        self.settle = settle
        self._clients: dict[UUID, Caller] = {}
        self.owner = self.client(cast.owner)
        self.firm = self.client(cast.firm)
        self.authority = self.client(cast.authority)

    def client(self, organization: Organization) -> Caller:
        """The organization's client, with a key of every scope."""
        if organization.id not in self._clients:
            with acting_for(organization.id, write=True):
                _, text = issue_key(label=f"field {uuid4()}", scopes=EVERY_SCOPE)
            self._clients[organization.id] = Caller(self.address, text)
        return self._clients[organization.id]

    def newcomer(self, key: str) -> Caller:
        """A client with a key that the service itself gave out."""
        made = self._clients[uuid4()] = Caller(self.address, key)
        return made

    def close(self) -> None:
        """Everybody leaves."""
        for client in self._clients.values():
            client.close()

    def read_in(
        self, client: Caller, rows: list[dict[str, str]], site: UUID | str, **more: Any
    ) -> Answer:
        """Have a table of openings read to its end; answers the import."""
        text = io.StringIO()
        writer = csv.DictWriter(text, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
        digest = client.upload(text.getvalue().encode(), "text/csv")
        body = {"kind": "openings", "source_sha256": digest, "site": str(site), **more}
        asked = client.post("/v1/imports", body, expect=202, once=str(uuid4()))
        self.settle()
        return client.get(f"/v1/imports/{asked['id']}")

    def hang(self, site: UUID | str, tags: Iterable[str]) -> dict[str, UUID]:
        """Have the owner record doors like the cast's own, and answer the id of each by its tag."""
        facts = {n: {True: "yes", False: "no"}.get(v, str(v)) for n, v in FACTS.items()}  # type: ignore[call-overload]
        own = {"location": "Hall", "door_type": "accordion", "in_place_since": "2020-01-01"}
        rows = [{"reference": tag, "tag": tag, **own, **facts} for tag in tags]
        made = self.read_in(self.owner, rows, site, dry_run=False, without_dry_run=True)
        assert made["counts"]["created"] == len(rows), made
        found = self.owner.every("/v1/openings", site=str(site), limit="200")
        return {each["tag"]: UUID(each["id"]) for each in found}

    def visit(
        self, opening: UUID, findings: Mapping[str, Any], *, by: Client | None = None, **more: Any
    ) -> Answer:
        """Send one visit, an hour ago where no time is given; answers the judged visit."""
        body = visit_body(opening, findings, **more)
        return (by or self.firm).post("/v1/visits", body, once=str(uuid4()))

    def conforming(
        self,
        opening: UUID,
        activity: str = "periodic_inspection",
        *,
        of: Organization | None = None,
        **changed: str,
    ) -> Answer:
        """Findings that meet everything asked for in an activity today, as a full sheet holds;
        read by the cast's owner, or whose door it is now.
        """
        with acting_for((of or self.cast.owner).id, write=False):
            return conforming(opening_by_id(opening), activity, **changed)

    def assembled(self) -> Answer:
        """A packet of the site as it stands now, by the firm."""
        self.firm.post("/v1/submittals", {"site": str(self.cast.site.id)}, expect=202)
        self.settle()
        return dict(self.firm.get("/v1/submittals")["data"][0])

    def words_of(self, submittal: Mapping[str, Any], *, first: int = 12) -> str:
        """What a person reads on the first pages of a packet's file."""
        content = self.firm.file(f"/v1/submittals/{submittal['id']}/file")
        pages = pypdf.PdfReader(io.BytesIO(content)).pages[:first]
        return " ".join(" ".join(page.extract_text().split()) for page in pages)

    def filed(self) -> Answer:
        """A packet of the site as it stands now, filed by the firm with the town's authority."""
        packet = self.assembled()
        self.firm.post(f"/v1/submittals/{packet['id']}/filings", {})
        return self.firm.get(f"/v1/submittals/{packet['id']}")

    def begun(self, opening: UUID, *, seen_by: Client | None = None) -> Answer:
        """What stands before anything happens: as `state`, with nothing waited for."""
        return self._standing(opening, seen_by or self.owner)

    def state(self, opening: UUID, *, seen_by: Client | None = None) -> Answer:
        """All that stands about one opening when the waiting work is done, as its owner reads it:
        visits with what of them does not conform, duties, deficiencies, filings, the notices to
        the owner's people, of reminders those of this opening, and its ledger, oldest first.
        """
        self.settle()
        return self._standing(opening, seen_by or self.owner)

    def _standing(self, opening: UUID, client: Client) -> Answer:
        mine = str(opening)
        visits = list(client.every("/v1/visits", opening=mine))
        visits.sort(key=lambda v: (v["performed_on"], v["received_at"]))
        duties = {d["id"]: d for d in client.every("/v1/duties") if d["opening"] == mine}
        return {
            "visits": [
                (v["activity"], v["verdict"], v["complete"], v["superseded_by"] is not None)
                for v in visits
            ],
            "wanting": [wanting(client.get(f"/v1/visits/{v['id']}")) for v in visits],
            "duties": {d["requirement"]: (d["state"], d["due_on"]) for d in duties.values()},
            "deficiencies": sorted(
                (d["subject"], d["state"], d["guarded"])
                for d in client.every("/v1/deficiencies")
                if d["opening"] == mine
            ),
            "filings": [
                (f["authority"], f["state"])
                for s in sorted(client.every("/v1/submittals"), key=lambda s: s["assembled_at"])
                for f in s["filings"]
            ],
            "notices": sorted(
                (n["stage"], n["person"], n["state"])
                for n in client.every("/v1/notices")
                if n["stage"] not in REMINDERS or n["thing"] in duties
            ),
            "ledger": [json.loads(e["body"])["kind"] for e in client.every("/v1/ledger")],
        }


def wanting(visit: Mapping[str, Any]) -> dict[str, str]:
    """What of a visit was asked for, or found, and does not conform."""
    found: dict[str, str] = {}
    for verdict in sorted(visit["judgement"]["verdicts"], key=lambda v: v["requirement"]):
        told = verdict["required"] or verdict["reason"] != "not_recorded"
        if told and verdict["verdict"] not in {"conforms", "not_applicable"}:
            found[named(verdict)] = verdict["verdict"]
    return found


def named(verdict: Mapping[str, Any]) -> str:
    """What a verdict is about: its quantity, check or sequence, else the requirement itself."""
    about = verdict["quantity"] or verdict["check"] or verdict["sequence"]
    return str(about or verdict["requirement"])


def told_of(visit: Mapping[str, Any], thing: str, *, advisory: bool = False) -> Answer:
    """The one verdict of a visit about a thing; raises where there are none or several."""
    listed = visit["judgement"]["advisory" if advisory else "verdicts"]
    (found,) = [v for v in listed if named(v) == thing]
    return dict(found)


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
    """The field, where owners are reminded at any hour; left by everybody at the end."""
    field = Field(address, cast, settle, mail)
    try:
        for owner in (field.owner, field.client(cast.neighbour)):
            owner.put("/v1/notice-policy", AT_ANY_HOUR)
        yield field
    finally:
        field.close()
