"""What came with a visit beside its readings: the alarm log, what was tripped, photos, papers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from doors.clock import Instant, instant_told
from doors.errors import NotVisibleError, RefusedError
from doors.models import Device, Opening
from doors.selectors.devices import moved_by
from doors.services.blobs import is_kept, kind_of, shown_bytes
from inspections.models import Visit
from inspections.selectors.device_clocks import DeviceClock
from inspections.services.moments import refuse_future
from inspections.services.reported_visits import SCANS


def refuse_other_times(
    findings: Mapping[str, Any], performed_at: Instant, clock: DeviceClock
) -> None:
    """A visit lies in the past, and nobody attests to it before it, nor later than now."""
    detail = "A visit cannot be performed in the future."
    refuse_future(performed_at.at, "/performed_at", detail, clock)
    attested_at = instant_told(findings["attestation"]["at"])
    detail = "Nobody has attested to it in the future."
    refuse_future(attested_at, "/attestation/at", detail, clock)
    if attested_at < performed_at.at:
        detail = "A visit is attested to when it has been performed, not before."
        raise RefusedError.at("/attestation/at", detail)
    _refuse_impossible_log(findings.get("alarm_log"), clock)


def _refuse_impossible_log(log: Mapping[str, Any] | None, clock: DeviceClock) -> None:
    """An alarm system comes off test after it went on; nobody signs or receives in the future."""
    if log is None:
        return
    on, off = log.get("on_test_at"), log.get("off_test_at")
    if on is not None and off is not None and instant_told(off) < instant_told(on):
        detail = "It cannot come off test before it went on test."
        raise RefusedError.at("/alarm_log/off_test_at", detail)
    told = {f"signals/{n}/received_at": s["received_at"] for n, s in enumerate(_signals(log))}
    told |= {name: log[name] for name in ("on_test_at", "off_test_at") if name in log}
    if log.get("contractor"):
        told["contractor/at"] = log["contractor"]["at"]
    for name, at in told.items():
        refuse_future(instant_told(at), f"/alarm_log/{name}", "This has not happened yet.", clock)


def refuse_other_device(opening: Opening, named: Mapping[str, Any] | None) -> None:
    """What set the door in motion is named, and if by its id, is a device of this opening."""
    if named is None:
        return
    if not named.get("device") and not named.get("reference"):
        raise RefusedError.at("/initiating_device", "Name a device of this opening, or its mark.")
    id_ = named.get("device")
    if id_ and not Device.objects.filter(opening=opening, id=id_).exists():
        raise RefusedError.at("/initiating_device/device", "This opening has no such device.")


def initiating_device_of(visit: Visit) -> dict[str, Any] | None:
    """What set the door in motion, and the other openings that hang on it as far as they are in
    sight: those whose doors had to be clear as well.
    """
    named = visit.findings.get("initiating_device")
    if named is None:
        return None
    reference = named.get("reference", "")
    if not reference and named.get("device"):
        rows = Device.objects.filter(id=named["device"])
        reference = rows.values_list("reference", flat=True).first() or ""
    moved = moved_by(visit.site_id, visit.performed_on, {reference} - {""}).get(reference, [])
    others = [asdict(each) for each in moved if each.opening != visit.opening_id]
    return {"reference": reference, "others": others}


def attachments_of(visit: Visit) -> list[dict[str, Any]]:
    """The photos and papers that a visit names, each kept or still to be sent."""
    return [
        {
            "sha256": each["sha256"],
            "caption": each.get("caption", ""),
            "missing": not is_kept(visit.author_id, each["sha256"]),
        }
        for each in visit.findings.get("attachments", [])
    ]


def shown_attachment(visit: Visit, sha256: str) -> tuple[bytes, str]:
    """The bytes that a visit names, and what they are; nothing where they are still to come."""
    named = {each["sha256"] for each in visit.findings.get("attachments", [])}
    if sha256 not in named or not is_kept(visit.author_id, sha256):
        raise NotVisibleError
    media_type = kind_of(visit.author_id, sha256)
    if media_type not in SCANS:
        raise NotVisibleError
    return shown_bytes(visit.author_id, sha256, media_type), media_type


def _signals(log: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    found: list[Mapping[str, Any]] = log.get("signals") or []
    return found
