"""Hanging pictures on openings."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.db import IntegrityError, transaction

from doors.errors import AlreadyExistsError, FutureDateError
from doors.models import Photo
from doors.selectors.organizations import acting_party
from doors.services.blobs import PICTURES, named_blob
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.openings import opening_in_care, today_at
from doors.tenancy import current


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
    line = LedgerLine("photo_added", photo.id, opening.site_id, {"sha256": photo.sha256})
    # The opening itself is its owner's to change: a photo hangs on it and raises no version.
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return photo
