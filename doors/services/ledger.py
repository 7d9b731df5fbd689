"""Writing the ledger, as the last act of a transaction, and checking that it was not altered."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import orjson
import rfc8785

from doors.models import LedgerEntry, LedgerHead
from doors.tenancy import acting_organization, current, lock_name

FIRST = "0" * 64


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """One thing that happened. `content` holds digests and plain facts, no personal data."""

    kind: str
    subject: UUID
    site_id: UUID | None
    content: Mapping[str, Any]


def canonical_json(content: object) -> bytes:
    """The canonical JSON (RFC 8785) of something JSON-ready. What is plain is written by the
    quicker of two writers; beside that the two differ in numbers and in the order of some keys.
    """
    if _is_plain(content):
        with suppress(orjson.JSONEncodeError):  # the other one says what is wrong
            written = orjson.dumps(content, option=_SORTED)
            if written.isascii() or max(written) < _BEYOND_16_BITS:
                return written
    return rfc8785.dumps(content)  # type: ignore[arg-type]


_SORTED = orjson.OPT_SORT_KEYS | orjson.OPT_STRICT_INTEGER
_BEYOND_16_BITS = 0xF0  # begins, in UTF-8, a character that sorts otherwise by UTF-16


def _is_plain(value: object) -> bool:
    """Whether it is made of nothing but objects, lists, texts, whole numbers, true, false, null."""
    kind = type(value)
    if kind is dict:
        return _are_plain(value.keys(), value.values())  # type: ignore[attr-defined]
    if kind is list:
        return all(map(_is_plain, value))  # type: ignore[call-overload]
    return kind in _PLAIN


def _are_plain(keys: Iterable[object], values: Iterable[object]) -> bool:
    return all(type(key) is str for key in keys) and all(map(_is_plain, values))


_PLAIN = {str, int, bool, type(None)}


def canonical_digest(content: object) -> str:
    """SHA-256 in hex of the canonical JSON (RFC 8785) of something JSON-ready without floats."""
    return hashlib.sha256(canonical_json(content)).hexdigest()


def write_ledger(*, custodian_id: UUID, lines: Sequence[LedgerLine]) -> list[LedgerEntry]:
    """Append lines to the custodian's chain. Call it last: it locks the chain's head, which each
    entry then moves in the database, where nobody else can.
    """
    lock_name(f"ledger:{custodian_id}")
    head = LedgerHead.objects.get(organization_id=custodian_id)
    entries = []
    for line in lines:
        head.position += 1
        entry = _entry(head, line)
        head.entry_sha256 = entry.entry_sha256
        entries.append(entry)
    return LedgerEntry.objects.bulk_create(entries)


def _entry(head: LedgerHead, line: LedgerLine) -> LedgerEntry:
    now = current().now
    body = canonical_json(
        {
            "organization": str(head.organization_id),
            "position": head.position,
            "previous": head.entry_sha256,
            "kind": line.kind,
            "subject": str(line.subject),
            "site": str(line.site_id) if line.site_id else None,
            "actor": str(current().author),
            "recorded_at": now.isoformat(),
            "content": dict(line.content),
        }
    )
    return LedgerEntry(
        organization_id=head.organization_id,
        position=head.position,
        kind=line.kind,
        subject=line.subject,
        site_id=line.site_id,
        body=body.decode(),
        entry_sha256=hashlib.sha256(body).hexdigest(),
        recorded_at=now,
    )


@dataclass(frozen=True, slots=True)
class LedgerFault:
    """The first entry that is not what was written, and why."""

    position: int
    why: str


def verify_ledger(chain_of: UUID | None = None) -> tuple[int, LedgerFault | None]:
    """Check the acting organization's chain, or that of one which it took over, from its first
    entry; answer its length and the first fault. A chain alone shows no cut tail or whole
    rewrite: compare the count and the last digest with an anchor kept elsewhere.
    """
    previous, count = FIRST, 0
    organization_id = chain_of or acting_organization()
    own = LedgerEntry.objects.filter(organization_id=organization_id)
    for entry in own.order_by("position").iterator(chunk_size=1000):
        count += 1
        why = _fault(entry, count, previous)
        if why:
            return count, LedgerFault(entry.position, why)
        previous = entry.entry_sha256
    head = LedgerHead.objects.get(organization_id=organization_id)
    if (head.position, head.entry_sha256) != (count, previous):
        return count, LedgerFault(count, "the chain's head names another last entry")
    return count, None


def _fault(entry: LedgerEntry, position: int, previous: str) -> str:
    body = json.loads(entry.body)
    shown = {
        "position": entry.position,
        "kind": entry.kind,
        "subject": str(entry.subject),
        "site": str(entry.site_id) if entry.site_id else None,
        "organization": str(entry.organization_id),
        "recorded_at": entry.recorded_at.isoformat(),
    }
    if entry.position != position:
        return f"entry {position} is missing"
    if hashlib.sha256(entry.body.encode()).hexdigest() != entry.entry_sha256:
        return "its text is not what was hashed"
    if body["previous"] != previous:
        return "it does not follow the entry before it"
    if any(body[name] != value for name, value in shown.items()):
        return "a column differs from its text"
    return ""
