"""Submittals, the feed of an authority, and what a stranger may know of a sealed file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Prefetch, Q, QuerySet

from doors.errors import NotVisibleError
from doors.selectors.visible import visible
from doors.tenancy import Purpose, acting_organization, looking_up
from inspections.models import Amendment, FeedChange, Filing, Submittal


def submittals_shown() -> QuerySet[Submittal]:
    """Submittals without their documents, with what became of them since."""
    amended = Prefetch("amendments", Amendment.objects.order_by("recorded_at", "id"))
    return Submittal.objects.defer("document").prefetch_related("filings", amended)


def submittal_by_id(submittal_id: UUID) -> Submittal:
    """The submittal without its document, or nothing by this address."""
    return visible(submittals_shown().filter(id=submittal_id))


def changes_after(position: int, limit: int) -> list[FeedChange]:
    """The next changes of the acting authority's own feed."""
    own = FeedChange.objects.filter(authority_id=acting_organization(), position__gt=position)
    told = own.select_related("submittal").defer("submittal__document")
    return list(told.order_by("position")[:limit])


@dataclass(frozen=True, slots=True)
class Seal:
    """What anybody may know of a filed packet: no content, no person."""

    submittal_id: UUID
    file_sha256: str
    content_sha256: str
    filed_at: datetime
    filed_by: str
    filed_with: str
    state: str
    sandbox: bool


def seal_of(*, sha256: str = "", submittal_id: UUID | None = None) -> Seal:
    """The first filing of a file, or of a content, of that digest, or of that submittal."""
    wanted = Q(submittal__file_sha256=sha256) | Q(submittal__content_sha256=sha256)
    if submittal_id is not None:
        wanted = Q(submittal_id=submittal_id)
    with looking_up(Purpose.VERIFICATION):
        filings = Filing.objects.filter(wanted).select_related("jurisdiction")
        filing = filings.order_by("filed_at").first()
        sealed = Submittal.objects.filter(id=filing.submittal_id).first() if filing else None
    if filing is None or sealed is None:
        raise NotVisibleError("No file of these bytes was filed.")
    return Seal(
        sealed.id,
        sealed.file_sha256,
        sealed.content_sha256,
        filing.filed_at,
        filing.author_name,
        filing.authority_name,
        filing.state,
        filing.jurisdiction.sandbox_id is not None,
    )
