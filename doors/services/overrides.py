"""An authority writes what it changes: drafted, linted, published with a date, immutable then."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from uuid import UUID

from django.db import transaction

import rules
from doors.clock import civil_date, start_of_day
from doors.errors import (
    FieldProblem,
    NotAllowedError,
    RefusedError,
    WrongStateError,
)
from doors.models import Jurisdiction, Override
from doors.selectors.jurisdictions import place_at
from doors.selectors.visible import visible
from doors.services.jobs import ask_for_job
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import acting_organization, current
from rules.errors import DataError
from rules.layers import Layer


@transaction.atomic
def draft_override(*, jurisdiction_code: str, title: str, document: str) -> Override:
    """Keep a draft of the acting authority for its own jurisdiction, if it reads without fault."""
    place = _own_jurisdiction(jurisdiction_code)
    layer = _read(document, title, place)
    return Override.objects.create(
        author_id=acting_organization(),
        jurisdiction=place,
        title=title,
        document=document,
        document_sha256=hashlib.sha256(document.encode()).hexdigest(),
        begins_on=min(a.since for a in layer.amendments if a.since is not None),
        created_at=current().now,
    )


def _own_jurisdiction(code: str) -> Jurisdiction:
    place = Jurisdiction.objects.filter(code=code).first()
    if place is None:
        raise RefusedError.at("/jurisdiction", f"No jurisdiction has the code {code[:60]!r}.")
    if place.authority_id != acting_organization():
        raise NotAllowedError("Only its own authority writes overrides for a jurisdiction.")
    return place


def _read(document: str, title: str, place: Jurisdiction) -> Layer:
    """The document as it stands upon all that is published; refuses with every mistake in it."""
    try:
        layer = rules.parse_layer(document, name=title, above=place_at(place).layers)
    except DataError as refused:
        errors = [
            FieldProblem(f"/document{p.pointer}", p.code, p.message) for p in refused.problems
        ]
        raise RefusedError("The override has mistakes.", errors=errors) from refused
    if layer.code != place.code:
        detail = f"It is written for {layer.code!r}, not for {place.code!r}."
        raise RefusedError.at("/document/jurisdiction/code", detail)
    above = place.parent.code if place.parent else ""
    if layer.parent and layer.parent != above:
        detail = f"{place.code} lies under {above!r}, not under {layer.parent!r}."
        raise RefusedError.at("/document/jurisdiction/parent", detail)
    _refuse_past(layer, place)
    return layer


def _refuse_past(layer: Layer, place: Jurisdiction) -> None:
    """Nobody is bound by a rule of yesterday that is written today, by the place's calendar."""
    today = civil_date(current().now, place.time_zone)
    begun = [(a.pointer, a.since) for a in layer.amendments if a.since is not None]
    if not begun:
        raise RefusedError.at("/document", "It changes nothing.")
    for pointer, since in begun:
        if since < today:
            detail = "An override may not begin before the day it is published."
            raise RefusedError.at(f"/document{pointer}/from", detail)


@transaction.atomic
def publish_override(*, override_id: UUID) -> Override:
    """Put a draft in force from its own first day, which may not lie before its publication by
    the calendar of its place.

    The duties of the openings in its place are moved by a job that this transaction leaves.
    """
    override = _held(override_id)
    if override.published_at is not None:
        raise WrongStateError("It is published already; a change is a new override.")
    place = override.jurisdiction
    layer = _read(override.document, override.title, place)
    override.published_at = current().now
    override.save(update_fields=["published_at"])
    _settle_when_it_changes(layer, place)
    content = {"document_sha256": override.document_sha256, "from": override.begins_on.isoformat()}
    line = LedgerLine("override_published", override.id, None, content)
    write_ledger(custodian_id=override.author_id, lines=[line])
    return override


def _held(override_id: UUID) -> Override:
    """An override of the acting authority, and with it every one of its place held in the order
    of their ids, so that of two that overlap the second to be published sees the first.
    """
    own = Override.objects.filter(author_id=acting_organization())
    override = visible(own.filter(id=override_id))
    beside = own.select_for_update().filter(jurisdiction_id=override.jurisdiction_id)
    held = {one.id: one for one in beside.order_by("id")}
    return held.get(override.id, override)


def _settle_when_it_changes(layer: Layer, place: Jurisdiction) -> None:
    """One job now, and one at the beginning of each later day on which a statement begins or
    has ended, by the calendar of the place.
    """
    arguments = {"jurisdiction": str(place.id)}
    ask_for_job(kind="settle_places", arguments=arguments)
    begins = {a.since for a in layer.amendments if a.since}
    ended = {a.until + timedelta(days=1) for a in layer.amendments if a.until}
    for day in sorted(begins | ended):
        at = start_of_day(day, place.time_zone)
        if at > current().now:
            ask_for_job(kind="settle_places", arguments=arguments, not_before=at)
