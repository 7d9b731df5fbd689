"""Keeping bytes under their digest: pictures, scans, tables; each once an organization."""

from __future__ import annotations

import hashlib
import zipfile
from dataclasses import dataclass
from io import BytesIO
from uuid import UUID

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction

from doors.errors import RefusedError
from doors.models import Blob
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.services.pictures import Drawn, NoPictureError, draw_anew
from doors.tenancy import acting_organization, current

SMALL_SIDE = 480  # pixels: sharp at a third of a page's width
MOST_BYTES = 15_000_000
PICTURES = {"image/jpeg": "JPEG", "image/png": "PNG"}
_BEGINNINGS: dict[str, bytes] = {
    "image/jpeg": b"\xff\xd8\xff",
    "image/png": b"\x89PNG\r\n\x1a\n",
    "application/pdf": b"%PDF-",
    "text/csv": b"",
}
MEDIA_TYPES = tuple(_BEGINNINGS)
EXTENSIONS = {
    "image/jpeg": "jpg",
    "image/png": "png",
    "application/pdf": "pdf",
    "text/csv": "csv",
}


@dataclass(frozen=True, slots=True)
class Kept:
    """A blob, and whether these bytes were sent for the first time."""

    blob: Blob
    created: bool


@dataclass(frozen=True, slots=True)
class LookedAt:
    """Bytes that may be kept: their digest, and of a picture the copy drawn anew."""

    content: bytes
    media_type: str
    sha256: str
    drawn: Drawn | None


def look_at(*, content: bytes, media_type: str, sha256: str | None = None) -> LookedAt:
    """Refuse what is not to be kept; `sha256` is what the sender says their digest is.

    A picture is decoded and drawn anew; a scan or a table stays unopened. Needs no transaction.
    """
    digest = hashlib.sha256(content).hexdigest()
    if sha256 is not None and sha256 != digest:
        raise RefusedError(f"What arrived has the SHA-256 {digest}, not what you say.")
    if not content:
        raise RefusedError("There are no bytes.")
    _refuse_other(content, media_type)
    return LookedAt(content, media_type, digest, _drawn(content, media_type))


@transaction.atomic
def keep_blob(seen: LookedAt) -> Kept:
    """Keep bytes for the acting organization; the same bytes twice are one blob."""
    organization_id = acting_organization()
    known = Blob.objects.filter(organization_id=organization_id, sha256=seen.sha256).first()
    if known is not None:
        return Kept(known, created=False)
    blob = Blob(
        organization_id=organization_id,
        sha256=seen.sha256,
        media_type=seen.media_type,
        size=len(seen.content),
        width=seen.drawn.width if seen.drawn else None,
        height=seen.drawn.height if seen.drawn else None,
        created_at=current().now,
    )
    store(_place(organization_id, seen.sha256, "original"), seen.content)
    if seen.drawn:
        store(_place(organization_id, seen.sha256, "copy"), seen.drawn.content)
    return _insert(blob)


def _refuse_other(content: bytes, media_type: str) -> None:
    """Refuse what does not begin as it says it is, and what is two things at once."""
    if not content.startswith(_BEGINNINGS[media_type]):
        raise RefusedError(f"These bytes do not begin as {media_type} does.")
    if media_type in PICTURES and (b"%PDF-" in content[:1024] or _is_archive(content)):
        raise RefusedError("These bytes are something else besides a picture.")
    if media_type == "application/pdf" and _is_archive(content):
        raise RefusedError("These bytes are something else besides a document.")
    if media_type == "text/csv" and (_begins_otherwise(content) or _is_archive(content)):
        raise RefusedError("These bytes are something else than a table.")


def _begins_otherwise(content: bytes) -> bool:
    """Whether bytes begin as something that is looked at before it is kept, or handed on."""
    return any(content.startswith(start) for start in _BEGINNINGS.values() if start)


def _is_archive(content: bytes) -> bool:
    return zipfile.is_zipfile(BytesIO(content))


def _drawn(content: bytes, media_type: str) -> Drawn | None:
    if media_type not in PICTURES:
        return None
    try:
        return draw_anew(content, PICTURES[media_type])
    except NoPictureError as error:
        raise RefusedError(f"This picture is not kept: {error}.") from error


def _insert(blob: Blob) -> Kept:
    try:
        with transaction.atomic():
            blob.save(force_insert=True)
    except IntegrityError:
        known = Blob.objects.get(organization_id=blob.organization_id, sha256=blob.sha256)
        return Kept(known, created=False)
    content = {"sha256": blob.sha256, "media_type": blob.media_type, "size": blob.size}
    line = LedgerLine("blob_kept", blob.id, None, content)
    write_ledger(custodian_id=blob.organization_id, lines=[line])
    return Kept(blob, created=True)


def store(name: str, content: bytes) -> None:
    """Keep a file under its own name; one that is there already is the same."""
    if not default_storage.exists(name):
        default_storage.save(name, ContentFile(content))


def original_place(organization_id: UUID, sha256: str) -> str:
    """Where the bytes lie in the storage as they were sent."""
    return _place(organization_id, sha256, "original")


def _place(organization_id: UUID, sha256: str, which: str) -> str:
    return f"blobs/{organization_id}/{sha256[:2]}/{sha256}/{which}"


def own_blob(sha256: str) -> Blob:
    """A blob of the acting organization, or nothing by this address."""
    return visible(Blob.objects.filter(organization_id=acting_organization(), sha256=sha256))


def named_blob(sha256: str, media_types: tuple[str, ...], pointer: str) -> Blob:
    """The acting organization's blob that a body names; refused where there is none such."""
    blob = Blob.objects.filter(organization_id=acting_organization(), sha256=sha256).first()
    if blob is None:
        raise RefusedError.at(pointer, "You have sent no bytes with this SHA-256.")
    if blob.media_type not in media_types:
        raise RefusedError.at(pointer, f"It is {blob.media_type}, not {' or '.join(media_types)}.")
    return blob


def is_kept(organization_id: UUID, sha256: str) -> bool:
    """Whether an organization has sent bytes of that digest, whoever asks."""
    return default_storage.exists(original_place(organization_id, sha256))


def original_bytes(organization_id: UUID, sha256: str) -> bytes:
    """The bytes as they were sent; for their organization alone."""
    return _read(original_place(organization_id, sha256))


def shown_bytes(organization_id: UUID, sha256: str, media_type: str) -> bytes:
    """What may be shown to whoever may see the thing that names them: of a picture its copy."""
    which = "copy" if media_type in PICTURES else "original"
    return _read(_place(organization_id, sha256, which))


def small_picture(organization_id: UUID, sha256: str, media_type: str) -> bytes | None:
    """A picture as a small JPEG, drawn once and kept; None where it cannot be drawn so."""
    place = _place(organization_id, sha256, f"small-{SMALL_SIDE}")
    if not default_storage.exists(place):
        copy = shown_bytes(organization_id, sha256, media_type)
        try:
            store(place, draw_anew(copy, PICTURES[media_type], side=SMALL_SIDE).content)
        except NoPictureError:
            return None
    return _read(place)


def kind_of(organization_id: UUID, sha256: str) -> str:
    """What the bytes are that a visible thing names, by their own beginning: whoever sees the
    thing need not see the sender's row of them.
    """
    content = original_bytes(organization_id, sha256)
    kinds = (kind for kind, start in _BEGINNINGS.items() if start and content.startswith(start))
    return next(kinds, "text/csv")


def _read(name: str) -> bytes:
    with default_storage.open(name) as kept:
        content: bytes = kept.read()
    return content
