"""Raw traces of visits: as they were sent, compressed, and apart from the visits themselves."""

from __future__ import annotations

import json
import lzma
from collections.abc import Mapping
from typing import Any

from django.db import models

from doors.models.homes import AuthoredRow, kept
from doors.walls import AUTHORED, Wall, in_sight

_QUICKLY = 1  # a fifth larger than at its best, in an eighth of the time


class Trace(AuthoredRow):
    """One trace of a visit, by its place in what was sent.

    `content` is its JSON, without spaces, in UTF-8, as XZ: of many samples that are much alike
    about a tenth remains. A number with a fraction was sent as text and is kept to the letter.
    """

    SEEN_WITH = "history"
    HAPPENED_AT = "performed_at"
    WALL = Wall(
        read=kept("performed_at", "history"),
        write=f"{AUTHORED} AND {in_sight('record')}",
        homes=(("visit_id", "inspections_visit"),),
        append_only=True,
    )

    visit = models.ForeignKey("inspections.Visit", on_delete=models.PROTECT, related_name="traces")
    index = models.PositiveSmallIntegerField()
    content = models.BinaryField()
    performed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["visit", "index"], name="trace_of_visit"),
        ]

    @staticmethod
    def packed(sent: Mapping[str, Any]) -> bytes:
        """The bytes that keep a trace."""
        text = json.dumps(sent, separators=(",", ":"), ensure_ascii=False)
        return lzma.compress(text.encode(), preset=_QUICKLY)

    @property
    def as_sent(self) -> dict[str, Any]:
        """The trace as it was sent."""
        found: dict[str, Any] = json.loads(lzma.decompress(self.content))
        return found
