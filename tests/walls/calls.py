"""The one table of who may call what. A new operation needs a row here, or a test fails.

A row is `Call(method, address, body, who=status, …)`. In `{braces}` stand the things of the
owner's world (`world.py` makes them): in the path, the query, the body, the headers. Who is named
gets that status, one of them a success; whoever is not named is answered exactly as if the thing
had never been. Without anything in braces, nobody but who is named finds the owner's canary.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

Who: TypeAlias = dict[str, Any]  # who calls -> status; spread into keywords
Json: TypeAlias = Any  # what a template holds is written out anew, whatever it is
# owner and firm: the rightful. authority: to which it was filed. rival: another firm, and owner.
# neighbour: another owner. elsewhere: another authority. former: a firm whose leave has ended.
# sandboxed: within a sandbox. revoked: the owner's revoked key. nobody: no key.
WITH_A_KEY = (
    "owner",
    "firm",
    "authority",
    "neighbour",
    "rival",
    "elsewhere",
    "former",
    "sandboxed",
)
WITHOUT = ("revoked", "nobody")


@dataclass(frozen=True)
class Call:
    """One operation with the owner's ids in one of its places."""

    method: str
    address: str
    body: Any = None
    may: Mapping[str, int] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)
    anybody: bool = False  # also without a key
    only: tuple[str, ...] = ()  # with things of these callers' own beside the owner's

    def __str__(self) -> str:
        """Name the row in a failure."""
        return f"{self.method} {self.address}" + (f" {self.only[0]}'s own" if self.only else "")


def call(
    method: str,
    address: str,
    body: Json = None,
    *,
    headers: Mapping[str, str] | None = None,
    anybody: bool = False,
    only: tuple[str, ...] = (),
    **may: int,
) -> Call:
    """A row; keywords name who may and what status they get."""
    return Call(method, address, body, may, headers or {}, anybody, only)


KEYED = {"HTTP_IDEMPOTENCY_KEY": "m-1"}
ANY_VERSION = {"HTTP_IF_MATCH": "*"}
BOTH: Who = {"owner": 200, "firm": 200}
ALL: Who = dict.fromkeys(WITH_A_KEY, 200)
MADE: Who = dict.fromkeys(WITH_A_KEY, 201)
OWNERS: Who = dict.fromkeys(("owner", "neighbour", "rival", "sandboxed"), 200)
FILED: Who = {**BOTH, "authority": 200}
DAY = "2026-01-01"
VISIT = {
    "opening": "{opening}",
    "client_ref": "m-1",
    "activity": "periodic_inspection",
    "performed_at": "{now}",
    "attestation": {"name": "Noor Vale", "at": "{now}"},
    "people": [{"name": "Noor Vale", "role": "inspector"}],
}
TRACE = {
    "kind": "stopwatch",
    "travel": {"value": "24", "unit": "ft"},
    "times": ["14.4"],
    "unit": "s",
}
OPENING = {"tag": "Z-8", "location": "Hall", "door_type": "swinging", "facts": {}}
OTHERS_VISIT = {**VISIT, "opening": "{neighbours_opening}"}


def _rows() -> Iterator[Call]:
    yield from _sites()
    yield from _openings()
    yield from _supposed()
    yield from _at_the_door()
    yield from _blobs()
    yield from _records()
    yield from _planned()
    yield from _told()
    yield from _silences()
    yield from _deficiencies()
    yield from _of_many_deficiencies()
    yield from _submittals()
    yield from _tables()
    yield from _people()
    yield from _beside()
    yield from _machines()


def _sites() -> Iterator[Call]:
    site = {"name": "X", "reference": "r", "address": ["1 St"], "time_zone": "UTC"}
    owners: Who = {
        "owner": 201,
        "neighbour": 201,
        "rival": 201,
        "sandboxed": 422,
    }  # a place outside
    yield call("GET", "/v1/sites", **BOTH)
    yield call("POST", "/v1/sites", {**site, "jurisdiction": "us"}, **owners)
    for_another = {**site, "jurisdiction": "us", "owner_id": "{organization}"}
    yield call("POST", "/v1/sites", for_another, owner=201)
    yield call("GET", "/v1/sites/{site}", **BOTH)
    yield call("PATCH", "/v1/sites/{site}", {"name": "Y"}, headers=ANY_VERSION, owner=200, firm=403)
    yield call("GET", "/v1/sites/{site}/custody", **BOTH)
    buyer = {"buyer": "{neighbours_id}", "begins_on": "2100-01-01"}
    yield call("POST", "/v1/sites/{site}/custody", buyer, owner=409)
    yield call("POST", "/v1/sites/{second_site}/custody", buyer, owner=201)
    yield call("GET", "/v1/custody-offers", owner=200, neighbour=200)
    yield call("GET", "/v1/custody-offers/{offer}", owner=200, neighbour=200)
    yield call("POST", "/v1/custody-offers/{offer}/acceptance", owner=409, neighbour=200)
    yield call("POST", "/v1/custody-offers/{offer}/refusal", owner=409, neighbour=200)
    yield call("POST", "/v1/custody-offers/{offer}/withdrawal", owner=200, neighbour=409)
    yield call("GET", "/v1/sites/{site}/initiating-devices", **BOTH)
    places = {"jurisdictions": ["us"], "begins_on": DAY}
    yield call("GET", "/v1/sites/{site}/places", **BOTH)
    yield call("POST", "/v1/sites/{site}/places", places, owner=201)
    leave = {"grantee": "{rivals_id}", "actions": ["record"], "begins_on": DAY, "site": "{site}"}
    yield call("GET", "/v1/grants", **BOTH, former=200)
    yield call("POST", "/v1/grants", leave, owner=201)
    yield call("GET", "/v1/grants/{grant}", **BOTH)
    yield call("POST", "/v1/grants/{grant}/end", {"ends_on": "2100-01-01"}, owner=200)


_HUNG = ("facts", "tags", "outages", "devices", "batteries", "photos")


def _openings() -> Iterator[Call]:
    at = "/v1/openings/{opening}"
    mine = "/v1/openings/{neighbours_opening}"
    managed: Who = {"owner": 201, "firm": 403}
    changed: Who = {"owner": 200, "firm": 403}
    yield call("GET", "/v1/openings", **BOTH)
    yield call("GET", "/v1/openings?site={site}", **BOTH)
    yield call("POST", "/v1/openings", {**OPENING, "site": "{site}"}, **managed)
    replacing = {**OPENING, "site": "{neighbours_site}", "replaces": "{opening}"}
    yield call("POST", "/v1/openings", replacing, only=("neighbour",))
    yield call("GET", at, **BOTH)
    yield call("PATCH", at, {"location": "X"}, headers=ANY_VERSION, **changed)
    for part in (
        "facts",
        "tags",
        "outages",
        "devices",
        "batteries",
        "photos",
        "history",
        "requirements",
        "what-if",
    ):
        yield call("GET", f"{at}/{part}", **BOTH)
    out = {"begins_on": "2021-01-01", "ends_on": "2021-02-01", "reason": "works"}
    yield call("POST", f"{at}/facts", {"begins_on": DAY, "facts": {}}, **managed)
    yield call("POST", f"{at}/tags", {"tag": "Z-9"}, **managed)
    yield call("POST", f"{at}/outages", out, **managed)
    for part, body in (("devices", {"kind": "sign"}), ("batteries", {"battery_type": "gel"})):
        replaced = {**body, "begins_on": DAY, "replaces": "{" + _ONE[part] + "}"}
        yield call("POST", f"{at}/{part}", {**body, "begins_on": DAY}, **managed)
        yield call("POST", f"{mine}/{part}", replaced, only=("neighbour",))
    for part, one in _ONE.items():
        end = f"{at}/{part}/{{{one}}}/end"
        yield call("POST", end, {"ends_on": DAY}, **changed)
    gone = {"removed_on": DAY, "reason": "gone"}
    yield call("POST", f"{at}/removal", gone, **managed)
    yield call("POST", f"{at}/replacement", {**gone, "opening": OPENING}, **managed)
    picture = {"sha256": "{sha256}"}
    yield call("POST", f"{at}/photos", picture, firm=409, owner=422)
    yield call("POST", f"{at}/photos", {"sha256": "{other_sha256}"}, firm=201, owner=422)
    yield call("POST", f"{mine}/photos", picture, only=("neighbour",))
    yield call("GET", f"{at}/photos/{{photo}}/file", **BOTH)
    yield call("POST", f"{at}/photos/{{photo}}/withdrawal", {"reason": "x"}, owner=201, firm=201)


def _supposed() -> Iterator[Call]:
    yield call("GET", "/v1/openings/{opening}/visit-plan?activity=operation_test", **BOTH)
    at = "/v1/openings/{opening}/what-if"
    yield call("GET", f"{at}?override={{override}}")  # a draft is its author's, who sees no door


def _at_the_door() -> Iterator[Call]:
    """What serves whoever stands before it."""
    at = "/v1/openings/{opening}"
    for part in ("door-codes", "sign-table"):
        yield call("GET", f"{at}/{part}", **BOTH)
    yield call("POST", f"{at}/door-codes", {"label": "strike"}, owner=201, firm=403)
    yield call("POST", f"{at}/door-codes/{{door_code}}/revocation", owner=200, firm=403)
    yield call("PUT", f"{at}/sign-table", {"entries": []}, headers=ANY_VERSION, **BOTH)


def _blobs() -> Iterator[Call]:
    at = "/v1/blobs/{sha256}"
    yield call("GET", "/v1/blobs", firm=200)
    for part in ("", "/file", "/original"):
        yield call("GET", f"{at}{part}", firm=200)


_ONE = {"outages": "outage", "devices": "device", "batteries": "battery"}


def _records() -> Iterator[Call]:
    taken = {"HTTP_IDEMPOTENCY_KEY": "{taken_key}"}
    others = {**OTHERS_VISIT, "supersedes": "{visit}", "reason": "x"}
    recording: Who = {"owner": 201, "firm": 201, "former": 422}  # its leave ended: told so
    yield call("GET", "/v1/visits", **BOTH)
    for place in ("site", "opening"):
        yield call("GET", f"/v1/visits?{place}={{{place}}}", **BOTH)
    yield call("POST", "/v1/visits", VISIT, headers=KEYED, **recording)
    yield call("POST", "/v1/visits", VISIT, headers=taken, **recording)
    yield call("POST", "/v1/visits", others, headers=KEYED, only=("neighbour",))
    yield call("POST", "/v1/visits/batch", {"visits": [VISIT]}, owner=200, firm=200, former=200)
    yield call("POST", "/v1/visits/batch", {"visits": [others]}, only=("neighbour",))
    yield call("GET", "/v1/visits/{visit}", **BOTH)
    yield call("GET", "/v1/duties", **BOTH)
    yield call("GET", "/v1/duties?site={site}", **BOTH)
    yield call("GET", "/v1/duties/calendar", **BOTH)
    yield call("GET", "/v1/duties/calendar?site={site}", **BOTH)
    yield call("GET", "/v1/duties/{duty}", **BOTH)


def _deficiencies() -> Iterator[Call]:
    yield call("GET", "/v1/deficiencies", **BOTH)
    places = {"site": "site", "opening": "opening", "owner": "organization"}
    for place, one in (places | {"assigned": "organization"}).items():
        yield call("GET", f"/v1/deficiencies?{place}={{{one}}}", **BOTH)
    at = "/v1/deficiencies/{deficiency}"
    yield call("GET", at, **BOTH)
    posted = {"kind": "attendant", "words": "x", "responsible": "Ada", "begins_at": "{now}"}
    yield call("POST", f"{at}/interim-measures", posted, owner=201, firm=201)
    stopped = {"stopped_at": "{now}", "because": "mended"}
    yield call("POST", f"{at}/interim-measures/{{measure}}/end", stopped, **BOTH)
    mended = {"done_at": "{now}", "done_by": "Ivo Lund", "words": "mended"}
    yield call("POST", f"{at}/repairs", mended, owner=201, firm=201)
    pictured = {**mended, "photos": ["{sha256}"]}
    yield call("POST", f"{at}/repairs", pictured, firm=201, owner=422)
    yield call("POST", f"{at}/withdrawal", {"reason": "twice"}, owner=201, firm=201)
    handed = {"organization": "{organization}"}
    yield call("POST", f"{at}/assignment", handed, owner=201, firm=201)
    seen = {"title": "x", "words": "x", "protects": "record", "found_at": "{now}", "person": "A"}
    yield call("POST", "/v1/deficiencies", {**seen, "opening": "{opening}"}, owner=201, firm=201)
    shown = {**seen, "opening": "{opening}", "photos": ["{sha256}"]}
    yield call("POST", "/v1/deficiencies", shown, firm=201, owner=422)
    retested = {**OTHERS_VISIT, "retests": [{"deficiency": "{deficiency}", "result": "conforms"}]}
    yield call("POST", "/v1/visits", retested, headers=KEYED, only=("neighbour",))
    yield call("POST", "/v1/visits/batch", {"visits": [retested]}, only=("neighbour",))


def _of_many_deficiencies() -> Iterator[Call]:
    for by in ("owner", "site"):
        yield call("GET", f"/v1/deficiencies/time-open?by={by}", **BOTH)
    grouped = {"title": "one cause", "deficiencies": ["{deficiency}"]}
    yield call("GET", "/v1/deficiency-groups", owner=200)
    yield call("POST", "/v1/deficiency-groups", grouped, owner=201, firm=201)
    yield call("GET", "/v1/deficiency-groups/{group}", owner=200)
    yield call("GET", "/v1/deficiency-policy", **OWNERS)
    policy = {"classes": [{"name": "soon"}], "rules": [{"class": "soon"}]}
    yield call("PUT", "/v1/deficiency-policy", policy, headers=ANY_VERSION, **OWNERS)


def _silences() -> Iterator[Call]:
    """What was measured and kept nowhere, what was left untested, and what came with a visit."""
    tripped = {**OTHERS_VISIT, "initiating_device": {"device": "{device}"}}
    yield call("POST", "/v1/visits", tripped, headers=KEYED, only=("neighbour",))
    yield call("GET", "/v1/visits/{visit}/attachments/{sha256}", **BOTH)
    yield call("GET", "/v1/untested", **BOTH)
    for place in ("site", "opening"):
        yield call("GET", f"/v1/untested?{place}={{{place}}}", **BOTH)
    yield call("GET", "/v1/untested?owner={organization}", **BOTH)
    yield call("POST", "/v1/measurements", {"trace": TRACE}, **ALL)
    yield call("GET", "/v1/visits/{drawn_visit}/traces/0/plot", **BOTH)
    trends = "/v1/openings/{opening}/trends"
    for part in ("", "/set_in_motion_force", "/set_in_motion_force/plot"):
        yield call("GET", f"{trends}{part}", **BOTH)


def _submittals() -> Iterator[Call]:
    at = "/v1/submittals/{submittal}"
    yield call("GET", "/v1/submittals", **FILED)
    yield call("GET", "/v1/submittals?site={site}", **FILED)
    yield call("POST", "/v1/submittals", {"site": "{site}"}, owner=202, firm=202)
    yield call("GET", "/v1/submittals/untested", **FILED)
    yield call("GET", "/v1/submittals/untested?site={site}", **FILED)
    yield call("GET", "/v1/submittals/untested?owner={organization}", **FILED)
    yield call("GET", "/v1/submittals/changes", authority=200)
    yield call("GET", at, **FILED)
    yield call("GET", f"{at}/file", **FILED)
    yield call("POST", f"{at}/filings", {}, firm=409, owner=422)
    yield call("POST", "/v1/submittals/{unfiled}/filings", {}, firm=201, owner=422)
    yield call("POST", f"{at}/answer", {"state": "accepted"}, authority=200)
    yield call("GET", "/v1/authority-reads", **FILED)
    yield call("GET", "/v1/authority-reads?site={site}", **FILED)
    yield call("GET", "/v1/seals/{submittal}", anybody=True)
    yield call("GET", "/v1/seals/{file_sha256}", anybody=True)


def _planned() -> Iterator[Call]:
    """A duty's plan: of whoever manages the site or has leave to plan there."""
    planned = {"planned_on": "2100-01-01", "by": "x"}
    yield call("POST", "/v1/duties/{duty}/plan", planned, owner=200, firm=403)


def _told() -> Iterator[Call]:
    """Who of an organization is told, when and how."""
    yield call("GET", "/v1/notices", owner=200)
    yield call("GET", "/v1/notices?thing={visit}", owner=200)
    yield call("GET", "/v1/notices/{notice}", owner=200)
    yield call("POST", "/v1/notices/{notice}/acknowledgement", {"by": "x"}, owner=200)
    told = {"contacts": [{"person": "{person}", "kinds": ["reminders"]}]}
    yield call("GET", "/v1/notice-policy", **ALL)
    yield call("PUT", "/v1/notice-policy", told, headers=ANY_VERSION, owner=200)
    at = "/v1/sites/{site}/notice-policy"
    yield call("GET", at, owner=200, firm=403)
    yield call("PUT", at, {"digest": False}, headers=ANY_VERSION, owner=200, firm=403)
    yield call("PUT", at, told, headers=ANY_VERSION, owner=200, firm=403)
    at = "/v1/people/{person}/reminders"
    yield call("GET", at, owner=200)
    yield call("POST", at, {"stopped": ["due"]}, owner=200)


def _tables() -> Iterator[Call]:
    """Earlier visits as they are told, and what is read in and written out as tables."""
    told, at = "/v1/reported-visits", "/v1/reported-visits/{reported}"
    report = {
        "opening": "{opening}",
        "client_ref": "binder 4",
        "activity": "periodic_inspection",
        "performed_on": "2025-01-01",
        "performed_by": "A former firm",
        "outcome": "not_reported",
    }
    yield call("GET", told, **BOTH)
    for place in ("site", "opening"):
        yield call("GET", f"{told}?{place}={{{place}}}", **BOTH)
    yield call("POST", told, report, owner=201, firm=201)
    yield call("GET", at, **BOTH)
    yield call("GET", f"{at}/scan", **BOTH)
    yield call("POST", f"{at}/withdrawal", {"reason": "twice"}, firm=201, owner=403)
    yield call("GET", f"{told}/policy", **ALL)
    yield call("POST", f"{told}/policy", {"until": DAY}, owner=200, neighbour=200, rival=200)
    table = {"kind": "openings", "mapping": {}, "source_sha256": "{table_sha256}"}
    first = {**table, "dry_run": True, "site": "{site}", "chunk_size": 1}
    again = {**first, "dry_run": False, "follows": "{import}"}
    yield call("GET", "/v1/import-templates/openings", **ALL)
    yield call("GET", "/v1/imports", owner=200)
    for body in (first, again):
        yield call("POST", "/v1/imports", body, headers=KEYED, owner=202)
    yield call("GET", "/v1/imports/{import}", owner=200)
    yield call("GET", "/v1/imports/{import}/rows", owner=200)
    undo = "/v1/imports/{taken_import}/withdrawal"
    yield call("POST", undo, {"reason": "the wrong table"}, owner=202)
    yield call("GET", "/v1/exports", owner=200)
    wanted = {"kind": "openings", "form": "csv", "site": "{site}"}
    yield call("POST", "/v1/exports", wanted, owner=202, firm=202)
    yield call("GET", "/v1/exports/{export}", owner=200)
    yield call("GET", "/v1/exports/{export}/file", owner=200)


def _people() -> Iterator[Call]:
    at, invited = "/v1/organizations/{organization}", {"email": "x@x.example", "role": "reader"}
    joined: Who = {**BOTH, "former": 200}  # a grant of theirs joins them, also an ended one
    barred: Who = {"firm": 403, "former": 403}
    yield call("GET", "/v1/organizations", **joined)
    firms: Who = {"firm": 201, "rival": 201, "former": 201, "sandboxed": 201}
    yield call("POST", "/v1/organizations", {"reference": "o-1", "name": "X"}, **firms)
    yield call("GET", at, **joined)
    yield call("PATCH", at, {"name": "X"}, headers=ANY_VERSION, owner=200, **barred)
    yield call("GET", f"{at}/invitations", **joined)
    yield call("POST", f"{at}/invitations", invited, owner=201, **barred)
    yield call("POST", "/v1/invitations/{invitation}/withdrawal", owner=200)
    yield call("GET", "/v1/people", owner=200)
    yield call("POST", "/v1/people", {"name": "X"}, **MADE)
    yield call("GET", "/v1/members", owner=200)
    yield call("GET", "/v1/keys", owner=200)
    of_theirs = {"label": "x", "scopes": ["visits:read"], "member": "{member}"}
    yield call("POST", "/v1/keys", of_theirs, owner=201)
    changes = {"people": ("person", {"name": "X"}), "members": ("member", {"role": "recorder"})}
    for part, (one, change) in changes.items():
        each = f"/v1/{part}/{{{one}}}"
        yield call("GET", each, owner=200)
        yield call("PATCH", each, change, headers=ANY_VERSION, owner=200)
        yield call("POST", f"{each}/end", owner=200)
    yield call("GET", "/v1/keys/{key}", owner=200)
    yield call("POST", "/v1/keys/{key}/revocation", owner=200)


def _beside() -> Iterator[Call]:
    """What belongs to one organization, and what is everybody's."""
    yield call("GET", "/v1/me", **ALL)
    yield call("PATCH", "/v1/me", {"language": "en"}, headers=ANY_VERSION, **ALL)
    yield call("GET", "/v1/jobs/{job}", firm=200)
    yield call("GET", "/v1/ledger", **BOTH)
    yield call("GET", "/v1/ledger/verification", **ALL)
    for each in ("/v1/ledger", "/v1/ledger/verification"):
        yield call("GET", f"{each}?organization={{alias}}", owner=200)
    yield call("GET", "/v1/jurisdictions", **ALL)
    yield call("GET", "/v1/places/us/requirements", **ALL)
    yield call("GET", "/v1/overrides", **ALL)
    draft = {"jurisdiction": "us-quillhaven", "title": "x", "document": "{document}"}
    yield call("POST", "/v1/overrides", draft, authority=201)
    yield call("POST", "/v1/overrides/{override}/publication", authority=200)


def _machines() -> Iterator[Call]:
    """What integrators try things out in, and what tells their machines."""
    box = "/v1/sandboxes/{sandbox}"
    yield call("GET", "/v1/sandboxes", owner=200)
    yield call("POST", "/v1/sandboxes", {"name": "Trial"}, **{**MADE, "sandboxed": 422})
    yield call("GET", box, owner=200)
    yield call("GET", f"{box}/messages", owner=200)
    yield call("PUT", f"{box}/clock", {"now": "{now}"}, headers=ANY_VERSION, owner=200)
    failing = {"opening": "{inner_opening}"}
    yield call("POST", f"{box}/failing-visits", failing, owner=201)
    yield call("POST", f"{box}/reset", owner=201)
    yield call("POST", f"{box}/end", owner=200)
    hook = {"url": "http://127.0.0.1:9/x", "events": ["visit.recorded"]}
    at, sent = "/v1/webhooks/{webhook}", "/v1/webhook-deliveries"
    yield call("GET", "/v1/webhooks", firm=200)
    yield call("POST", "/v1/webhooks", hook, **MADE)
    yield call("GET", at, firm=200)
    yield call("PATCH", at, {"events": ["visit.recorded"]}, headers=ANY_VERSION, firm=200)
    yield call("POST", f"{at}/end", firm=200)
    yield call("POST", f"{at}/secrets", firm=201)
    yield call("POST", f"{at}/test", firm=202)
    yield call("GET", sent, firm=200)
    yield call("GET", f"{sent}?webhook={{webhook}}", firm=200)
    yield call("GET", f"{sent}/{{delivery}}", firm=200)
    yield call("POST", f"{sent}/{{delivery}}/redelivery", firm=202)


CALLS = list(_rows())
# Operations in which nothing of another's can stand, and which hold what the caller sends alone.
NOTHING_OF_ANOTHERS = {"POST /v1/blobs", "POST /v1/claims"}  # the latter: whoever holds a token
