"""The demonstration in numbers, each of them read back from the API when it is over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from inspections.management.client import Client
from inspections.management.stage import Stage

_OF_VISIT = ("id", "activity", "performed_at", "verdict", "complete", "content_sha256")
_OF_VERDICT = ("requirement", "verdict", "band", "margin", "message", "citation", "standing")
_OF_SUBMITTAL = ("id", "file_sha256", "file_size", "content_sha256", "counts", "filings")


def summarize(stage: Stage) -> dict[str, Any]:
    """What each party sees in the end, and what became of the one door."""
    seen = stage.seen
    found = seen["visit"]["found"][0]["id"]
    submittal = stage.firm.get(f"/v1/submittals/{seen['submittal']['id']}")
    return {
        "firm_sees": seen_by_firm(stage.firm),
        "owner_sees": seen_by_owner(stage.owner),
        "authority_sees": seen_by_authority(stage.authority),
        "opening": {name: seen["opening"][name] for name in ("id", "tag", "door_type")},
        "override": {name: seen["override"][name] for name in ("id", "begins_on")},
        "visit": _visit(stage, seen["visit"]["id"]),
        "deficiency": stage.firm.get(f"/v1/deficiencies/{found}"),
        "retest": _visit(stage, seen["retest"]["id"]),
        "duties_before": seen["duty_before"],
        "duties_after": seen["duty_after"],
        "submittal": {name: submittal[name] for name in _OF_SUBMITTAL},
        "seal": stage.stranger.get(f"/v1/seals/{submittal['file_sha256']}"),
    }


def seen_by_firm(firm: Client) -> dict[str, Any]:
    """What the inspection firm sees: it has leave on every site."""
    return {
        "sites": _count(firm.every("/v1/sites")),
        "openings": counted(firm.every("/v1/openings"), "door_type"),
        "visits": counted(firm.every("/v1/visits"), "verdict"),
        "duties": counted(firm.every("/v1/duties"), "state"),
        "deficiencies": counted(firm.every("/v1/deficiencies"), "state"),
        "submittals": _count(firm.every("/v1/submittals")),
    }


def seen_by_owner(owner: Client) -> dict[str, Any]:
    """What the owner of the building sees beside: who was told, and its ledger."""
    return {
        "sites": _count(owner.every("/v1/sites")),
        "openings": counted(owner.every("/v1/openings"), "door_type"),
        "notices": counted(owner.every("/v1/notices"), "stage"),
        "ledger": owner.get("/v1/ledger/verification"),
    }


def seen_by_authority(authority: Client) -> dict[str, Any]:
    """What the authority sees: its overrides, and what was filed to it."""
    return {
        "overrides": _count(authority.every("/v1/overrides")),
        "submittals": _count(authority.every("/v1/submittals")),
        "changes": len(authority.get("/v1/submittals/changes", after="0")["data"]),
    }


def counted(rows: Iterable[dict[str, Any]], by: str) -> dict[str, int]:
    """How many there are, in all and of each word."""
    words = Counter(row[by] for row in rows)
    return {"all": words.total(), **{word: words[word] for word in sorted(words)}}


def _count(rows: Iterable[object]) -> int:
    return sum(1 for _ in rows)


def _visit(stage: Stage, visit_id: str) -> dict[str, Any]:
    visit = stage.firm.get(f"/v1/visits/{visit_id}")
    judgement = visit["judgement"]
    return {
        **{name: visit[name] for name in _OF_VISIT},
        "summary": judgement["summary"],
        "verdicts": [{k: v.get(k) for k in _OF_VERDICT} for v in judgement["verdicts"]],
    }
