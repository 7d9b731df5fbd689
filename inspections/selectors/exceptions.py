"""What a reviewer wants to see first: everything at an opening that is not as it must be."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

STANDING = {"open", "repaired"}


def exceptions_of(sheet: dict[str, Any]) -> list[dict[str, Any]]:
    """The exceptions of one opening: standing deficiencies, what is overdue, what its visits left
    inconclusive or untested, and photos and papers that are still to be sent.
    """
    found = [*_deficiencies(sheet), *_overdue(sheet), *_latest(sheet), *_missing(sheet)]
    return [{"opening": sheet["tag"], **each} for each in found]


def _deficiencies(sheet: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for deficiency in sheet["deficiencies"]:
        if deficiency["state"] not in STANDING:
            continue
        measures = deficiency["interim"]
        yield {
            "kind": "deficiency_open",
            "words": deficiency["words"],
            "since": deficiency["opened_on"],
            "interim": measures[-1] if measures else None,
        }
        if any(m["until"] is None for m in measures):
            words = "An interim measure has no end."
            yield {
                "kind": "interim_measure_without_end",
                "words": words,
                "since": measures[-1]["from"],
                "interim": measures[-1],
            }


def _overdue(sheet: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for duty in sheet["duties"]:
        if duty["state"] == "overdue":
            words = f"{duty['activity'].replace('_', ' ')} was due on {duty['due_on']}"
            yield {"kind": "overdue", "words": words, "since": duty["closes_on"]}


def _latest(sheet: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """What could not be judged, and what was not tested though it is required or was said not to
    be: of each requirement, by the newest visit that asked for it. A short retest takes nothing
    back that a fuller visit left open.
    """
    asked: set[str] = set()
    for visit in sheet["visits"]:
        for verdict in visit["verdicts"]:
            kind = verdict["verdict"]
            said = verdict["required"] or verdict["reason"] == "stated"
            if (kind == "not_tested" and not said) or verdict["requirement"] in asked:
                continue
            asked.add(verdict["requirement"])
            if kind in {"inconclusive", "not_tested"}:
                why = "" if verdict["reason"] == "not_recorded" else f": {verdict['message']}"
                yield {
                    "kind": kind,
                    "words": f"{verdict['title']}{why}",
                    "since": visit["performed_at"][:10],
                }


def _missing(sheet: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for visit in sheet["visits"]:
        for attachment in visit["attachments"]:
            if attachment["missing"]:
                said = [attachment["caption"], f"SHA-256 {attachment['sha256']}"]
                words = ", ".join(filter(None, said))
                since = visit["performed_at"][:10]
                yield {"kind": "missing_attachment", "words": words, "since": since}
