"""The rows of what is untested, written anew by whatever is recorded at an opening."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from django.db.models import Q

from doors.models import Opening
from inspections.models import FrozenUntestedItem, Submittal, UntestedItem, Visit
from inspections.selectors.untested import silence_of, subject_of, words_of
from inspections.selectors.visits import standing_visits

_AT_ONCE = 500


def settle_untested(*, opening: Opening, visit: Visit) -> None:
    """Let a visit's words be the latest on what it asked for; where a later one stands, or a
    correction is silent of what it corrects, all words on the opening are gathered anew.

    Run it as the custodian: who adds a visit may not see those of others.
    """
    latest = {visit: words_of(visit.judgement["verdicts"])}
    rows = UntestedItem.objects.filter(opening=opening)
    if _has_the_last_word(visit, latest[visit]):
        rows = rows.filter(requirement__in=latest[visit])
    else:
        latest = _gathered(opening)
    rows.delete()
    UntestedItem.objects.bulk_create(
        [
            UntestedItem(
                opening_id=opening.id,
                visit=each,
                author_id=each.author_id,
                author_name=each.author_name,
                performed_at=each.performed_at,
                **_said(verdict, each.activity, each.performed_on),
                site_id=opening.site_id,
                tag=opening.tag,
            )
            for each, words in latest.items()
            for verdict in words.values()
            if silence_of(verdict)
        ],
        batch_size=_AT_ONCE,
    )


def forget_untested(*, opening: Opening) -> None:
    """Nothing is tested any more at an opening that is gone; its visits keep what they say."""
    UntestedItem.objects.filter(opening=opening).delete()


def freeze_untested(*, submittal: Submittal, document: Mapping[str, Any]) -> None:
    """Keep what a packet says was not tested as rows of their own, so that it can be listed."""
    rows = [
        FrozenUntestedItem(
            submittal=submittal,
            site_id=submittal.site_id,
            author_id=submittal.author_id,
            author_name=submittal.author_name,
            assembled_at=submittal.assembled_at,
            tag=sheet["tag"],
            **said,
        )
        for sheet in document["openings"]
        for said in _frozen(sheet)
    ]
    FrozenUntestedItem.objects.bulk_create(rows, batch_size=_AT_ONCE)


def _has_the_last_word(visit: Visit, words: Mapping[str, Any]) -> bool:
    corrected = visit.supersedes
    if corrected is not None and not words_of(corrected.judgement["verdicts"]).keys() <= set(words):
        return False
    later = Q(performed_at__gt=visit.performed_at) | Q(
        performed_at=visit.performed_at, received_at__gt=visit.received_at
    )
    others = Visit.objects.filter(later, opening_id=visit.opening_id, superseded_by=None)
    return not others.exclude(id=visit.id).exists()


def _gathered(opening: Opening) -> dict[Visit, dict[str, Any]]:
    """Of each requirement the word of the newest standing visit that asked for it."""
    heard: set[str] = set()
    latest = {}
    rows = standing_visits(opening).defer("findings", "basis").reverse()
    for visit in rows.iterator(chunk_size=20):
        words = words_of(visit.judgement["verdicts"])
        latest[visit] = {name: said for name, said in words.items() if name not in heard}
        heard |= words.keys()
    return latest


def _frozen(sheet: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """What a sheet's visits, newest first, leave untested."""
    heard: set[str] = set()
    for visit in sheet["visits"]:
        on = date.fromisoformat(visit["performed_at"][:10])
        words = words_of(visit["verdicts"])
        for name, verdict in words.items():
            if name not in heard and silence_of(verdict):
                yield _said(verdict, visit["activity"], on)
        heard |= words.keys()


def _said(verdict: Mapping[str, Any], activity: str, on: date) -> dict[str, Any]:
    return {
        "requirement": verdict["requirement"],
        "title": verdict["title"],
        "subject": subject_of(verdict),
        "result": silence_of(verdict),
        "reason": verdict["reason"] or "",
        "words": verdict["message"],
        "activity": activity,
        "performed_on": on,
    }
