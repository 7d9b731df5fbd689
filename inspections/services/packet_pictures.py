"""What a packet holds beside what was found: photos, papers, what set the door in motion.

Both are frozen into the document by digest and name; the pictures are handed to the drawing.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from doors.services.blobs import PICTURES, kind_of, small_picture
from inspections.models import Visit
from inspections.services.attendance import attachments_of, initiating_device_of

_PHOTO, _PAPER = "photo", "paper"


class PacketPictures:
    """The attachments of the visits of one packet, with whose bytes they are."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[UUID, str]] = {}

    def beside(self, visit: Visit) -> dict[str, Any]:
        """What is frozen of a visit beside what was found."""
        attachments = [self._attachment(visit.author_id, told) for told in attachments_of(visit)]
        return {"attachments": attachments, "initiating_device": _initiating(visit)}

    def small(self, sha256: str) -> bytes | None:
        """A photo of the packet, small, as a JPEG; None where it cannot be drawn."""
        return small_picture(self._kept[sha256][0], sha256, self._kept[sha256][1])

    def _attachment(self, author_id: UUID, told: dict[str, Any]) -> dict[str, Any]:
        if told["missing"]:
            return told | {"kind": ""}
        media_type = kind_of(author_id, told["sha256"])
        self._kept[told["sha256"]] = author_id, media_type
        return told | {"kind": _PHOTO if media_type in PICTURES else _PAPER}


def _initiating(visit: Visit) -> dict[str, Any] | None:
    found = initiating_device_of(visit)
    if found is None:
        return None
    moves = [", ".join(filter(None, (o["tag"], o["location"]))) for o in found["others"]]
    return {"reference": found["reference"], "moves": moves}
