"""Assembling a packet, filing it with an authority, and its being read there."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID, uuid4

import rfc8785
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import DatabaseError, IntegrityError, transaction

from doors.clock import civil_date
from doors.errors import (
    AlreadyExistsError,
    CannotServeError,
    FieldProblem,
    RefusedError,
    WrongStateError,
)
from doors.models import Job, Jurisdiction, Organization, Site
from doors.selectors.jurisdictions import place_of
from doors.selectors.organizations import acting_party
from doors.selectors.sandboxes import sandbox_in_hand
from doors.selectors.sight import sight_of
from doors.selectors.visible import named_at, visible
from doors.services.jobs import ask_for_job
from doors.services.ledger import LedgerLine, canonical_digest, write_ledger
from doors.tenancy import acting_organization, current
from inspections.models import EventType, Filing, ReadLine, Stage, Submittal
from inspections.pdf.packet import render_packet
from inspections.selectors.packets import packet_document
from inspections.services.feeds import enter_feed
from inspections.services.happenings import Happening, tell
from inspections.services.owings import owe
from inspections.services.packet_pictures import PacketPictures
from inspections.services.untested import freeze_untested


@transaction.atomic
def ask_for_submittal(*, site_id: UUID) -> Job:
    """Leave the assembly of a site's packet to a worker."""
    with named_at("/site"):
        sight_of(site_id, "submit")
    return ask_for_job(kind="assemble_submittal", arguments={"site": str(site_id)})


def assemble_submittal(job: Job) -> Mapping[str, Any]:
    """Freeze what stands at the site into a document and draw its file. Runs in a worker."""
    sight = sight_of(UUID(job.arguments["site"]), "submit")
    site = Site.objects.get(id=sight.site_id)
    author = acting_party()
    id_ = uuid4()
    pictures = PacketPictures()
    document, digest = _frozen(site, id_, pictures)
    content = render_packet(document, picture=pictures.small)
    file_sha256 = hashlib.sha256(content).hexdigest()
    _store(file_sha256, content)
    submittal = Submittal.objects.create(
        id=id_,
        site=site,
        author=author,
        author_name=author.name,
        custodian_id=sight.custodian_id,
        assembled_at=current().now,
        document=rfc8785.dumps(document).decode(),
        content_sha256=digest,
        file_name=f"submittal-{str(id_)[:8]}.pdf",
        file_size=len(content),
        file_sha256=file_sha256,
        counts=document["counts"]
        | {"says": document["coverage"]["says"], "exceptions": _exceptions(document)},
        missing_attachments=_missing(document),
    )
    freeze_untested(submittal=submittal, document=document)
    digests = {"content_sha256": digest, "file_sha256": file_sha256}
    line = LedgerLine("submittal_assembled", submittal.id, site.id, digests)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return {"submittal": str(submittal.id)}


def _exceptions(document: dict[str, Any]) -> list[str]:
    """What the packet lists as not as it must be, counted in words."""
    kinds = Counter(e["kind"].replace("_", " ") for e in document["exceptions"])
    return [f"{kind}: {count}" for kind, count in sorted(kinds.items())]


def _missing(document: dict[str, Any]) -> list[dict[str, str]]:
    return [
        {"opening": sheet["tag"], "visit": visit["id"], "sha256": attachment["sha256"]}
        for sheet in document["openings"]
        for visit in sheet["visits"]
        for attachment in visit["attachments"]
        if attachment["missing"]
    ]


def _frozen(site: Site, id_: UUID, pictures: PacketPictures) -> tuple[dict[str, Any], str]:
    """The document with the digest of its content: the canonical JSON of all but that digest."""
    place, _ = authority_of(site)
    url = f"{settings.PUBLIC_URL}/v1/seals/{id_}"
    document = packet_document(
        site, packet_id=id_, jurisdiction=place, verify_url=url, beside=pictures.beside
    )
    digest = canonical_digest(document)
    document["verify"]["content_sha256"] = digest
    return document, digest


def authority_of(site: Site, code: str = "") -> tuple[Jurisdiction, UUID]:
    """The place of the site with that code, or else the nearest that has an authority on the
    service, and that authority. A city and a county may both hold.
    """
    today, circle = civil_date(current().now, site.time_zone), sandbox_in_hand()
    for place in reversed(place_of(site.id, today).jurisdictions):
        if place.sandbox_id != circle:
            continue  # what a sandbox files reaches no real authority
        if place.authority_id is not None and code in {"", place.code}:
            return place, place.authority_id
    if code:
        raise RefusedError.at("/jurisdiction", "No authority of this site has that place.")
    raise RefusedError("No authority of this site is on the service.")


def _store(sha256: str, content: bytes) -> None:
    """Keep a file under the name of its digest; the same bytes are kept once."""
    if not default_storage.exists(path_of(sha256)):
        default_storage.save(path_of(sha256), ContentFile(content))


def path_of(sha256: str) -> str:
    """Where a file of that digest lies in the storage."""
    return f"sealed/{sha256[:2]}/{sha256}"


@transaction.atomic
def file_submittal(*, submittal_id: UUID, jurisdiction_code: str = "") -> Filing:
    """Hand a submittal to an authority of its site, the nearest where no place is named; the
    owner is told, the feed moves last.
    """
    submittal = visible(Submittal.objects.select_related("site").filter(id=submittal_id))
    site = submittal.site
    sight = sight_of(site.id, "submit")
    if submittal.author_id != acting_organization():
        raise RefusedError("Only who assembled a submittal files it.")
    _refuse_incomplete(submittal)
    filing = _file(submittal, *authority_of(site, jurisdiction_code))
    words = {
        "site": site.name,
        "authority": filing.authority_name,
        "filed_by": filing.author_name,
        "filed_on": civil_date(filing.filed_at, site.time_zone).isoformat(),
        "coverage": submittal.counts["says"],
        "exceptions": submittal.counts["exceptions"],
        "file_sha256": submittal.file_sha256,
    }
    owe(site=site, stage=Stage.SUBMITTAL_FILED, thing=filing.id, words=words)
    tell_of_filing(filing)
    content = {"authority": str(filing.authority_id), "file_sha256": submittal.file_sha256}
    line = LedgerLine("submittal_filed", filing.id, site.id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    if filing.jurisdiction.sandbox_id is not None:
        answered = {"submittal": str(submittal.id), "authority": str(filing.authority_id)}
        ask_for_job(kind="answer_in_sandbox", arguments=answered)
    enter_feed(filing=filing)
    return filing


def _refuse_incomplete(submittal: Submittal) -> None:
    """What a packet's visits name must be in it: a missing photo stops the filing, no visit."""
    errors = [
        FieldProblem(
            "",
            "missing_attachment",
            f"Opening {each['opening']}, visit {each['visit']}: {each['sha256']} was not sent.",
        )
        for each in submittal.missing_attachments
    ]
    if errors:
        detail = (
            f"{len(errors)} attachments that its visits name were missing when this packet was "
            "assembled. Send them to /v1/blobs, assemble the packet again, and file that one."
        )
        raise WrongStateError(detail, errors=errors)


def tell_of_filing(filing: Filing) -> None:
    """That a filing has come into its state: to who has sight of the site, and its authority."""
    data = {
        "filing": str(filing.id),
        "submittal": str(filing.submittal_id),
        "state": filing.state,
        "version": filing.version,
        "path": f"/v1/submittals/{filing.submittal_id}",
    }
    type_ = EventType(f"submittal.{filing.state}")
    tell(
        happenings=[Happening(type_, filing.id, data, filing.version)],
        site_id=filing.site_id,
        custodian_id=filing.custodian_id,
        parties=[filing.authority_id],
    )


def _file(submittal: Submittal, place: Jurisdiction, authority_id: UUID) -> Filing:
    try:
        with transaction.atomic():
            return Filing.objects.create(
                site_id=submittal.site_id,
                author_id=submittal.author_id,
                author_name=submittal.author_name,
                submittal=submittal,
                custodian_id=submittal.custodian_id,
                jurisdiction=place,
                authority_id=authority_id,
                authority_name=place.authority_name,
                state="filed",
                filed_at=current().now,
            )
    except IntegrityError as error:
        raise AlreadyExistsError("It is filed with this authority already.") from error


def note_readings(*, submittals: Iterable[Submittal], what: str) -> None:
    """Leave the line of each read by an authority of what was filed to it, in the transaction of
    the read; without it there is no read.
    """
    reader = acting_party()
    wanted = {submittal.id: submittal for submittal in submittals}
    filed = Filing.objects.filter(submittal__in=wanted, authority=reader)
    lines = [
        _line(wanted[id_], reader, what) for id_ in filed.values_list("submittal_id", flat=True)
    ]
    if not lines:
        return
    try:
        with transaction.atomic():
            ReadLine.objects.bulk_create(lines)
    except DatabaseError as error:
        raise CannotServeError("This read cannot be entered, so it is not answered.") from error


def _line(submittal: Submittal, reader: Organization, what: str) -> ReadLine:
    return ReadLine(
        site_id=submittal.site_id,
        submittal_id=submittal.id,
        authority=reader,
        authority_name=reader.name,
        source_address=current().source_address,
        key_id=current().key_id,
        what=what,
        file_sha256=submittal.file_sha256,
        read_at=current().now,
    )
