"""Hanging pictures on openings, and taking them back."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.db import IntegrityError, transaction

from doors.errors import AlreadyExistsError, FutureDateError, WrongStateError
from doors.models import Photo, Sight
from doors.selectors.openings import lock_opening
from doors.selectors.organizations import acting_party
from doors.selectors.visible import visible
from doors.services.blobs import PICTURES, named_blob
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.services.openings import opening_in_care, today_at
from doors.tenancy import acting_organization, current


@transaction.atomic
def add_photo(
    *, opening_id: UUID, sha256: str, caption: str = "", taken_on: date | None = None
) -> Photo:
    """Hang a picture that the acting organization has sent on an opening where it works."""
    opening, sight = opening_in_care(opening_id, "record", "manage")
    blob = named_blob(sha256, tuple(PICTURES), "/sha256")
    if taken_on is not None and taken_on > today_at(opening.site):
        raise FutureDateError.at("/taken_on", "It cannot have been taken in the future.")
    author = acting_party()
    photo = Photo(
        site_id=opening.site_id,
        opening=opening,
        author=author,
        author_name=author.name,
        sha256=blob.sha256,
        media_type=blob.media_type,
        caption=caption,
        taken_on=taken_on,
        recorded_at=current().now,
    )
    try:
        with transaction.atomic():
            photo.save(force_insert=True)
    except IntegrityError as error:
        raise AlreadyExistsError.at("/sha256", "This picture hangs there already.") from error
    # The opening itself is its owner's to change: a photo hangs on it and raises no version.
    _enter(photo, sight, "photo_added", {"sha256": photo.sha256})
    return photo


@transaction.atomic
def withdraw_photo(*, opening_id: UUID, photo_id: UUID, reason: str) -> Photo:
    """Take a picture back, as who hung it there or as who manages the site; it stays on record,
    and nobody is given its pixels any more. What was filed before holds what it held.
    """
    lock_opening(opening_id)
    photo = visible(Photo.objects.filter(opening_id=opening_id, id=photo_id))
    own = photo.author_id == acting_organization()
    _, sight = opening_in_care(opening_id, *(("record", "manage") if own else ("manage",)))
    if photo.withdrawn_at is not None:
        raise WrongStateError("It is withdrawn already.")
    photo.withdrawn_at, photo.withdrawal_reason = current().now, reason
    photo.withdrawn_by = acting_party().name
    photo.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    content = {"sha256": photo.sha256, "reason_sha256": canonical_digest(reason)}
    _enter(photo, sight, "photo_withdrawn", content)
    return photo


def _enter(photo: Photo, sight: Sight, kind: str, content: dict[str, str]) -> None:
    line = LedgerLine(kind, photo.id, photo.site_id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
