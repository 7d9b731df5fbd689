"""What is owed: left in the transaction that makes it so; a worker turns it into notices for
people, or into deliveries for machines.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.db import transaction

from doors.models import Organization, Site
from doors.selectors.organizations import acting_party
from doors.selectors.sight import custodian_of
from doors.services.claims import Claim, claim_rows, end_claim, guarded
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.models import EventType, Owing
from inspections.services.audiences import expand_event
from inspections.services.ladders import set_up_ladder
from inspections.services.recipients import tell_people
from inspections.services.withdrawals import reasons_gone

LEASE = timedelta(minutes=2)
TRIES = 10


def owe(
    *,
    site: Site,
    stage: str,
    thing: UUID,
    words: Mapping[str, Any],
    thing_version: int = 1,
    author: Organization | None = None,
    custodian_id: UUID | None = None,
) -> Owing:
    """Leave one owing row. `words` are the plain facts a message is made of, nobody's address.
    Who has read the `author`, the acting party, or the custodian in this transaction hands it on.
    """
    owing = Owing.left(
        author or acting_party(),
        custodian_id or custodian_of(site.id),
        site=site,
        stage=stage,
        thing=thing,
        thing_version=thing_version,
        words=dict(words),
    )
    owing.save(force_insert=True)
    return owing


def owe_own(*, stage: str, thing: UUID, thing_version: int, words: Mapping[str, Any]) -> None:
    """Leave what is owed to the acting organization's own people about a thing without a site;
    what was left already by this meaning is not left again.
    """
    own = acting_party()
    what = {"stage": stage, "thing": thing, "thing_version": thing_version}
    owing = Owing.left(own, own.id, words=dict(words), **what)
    Owing.objects.bulk_create([owing], ignore_conflicts=True)


def expand_waiting_owings(*, limit: int = 50) -> int:
    """Turn waiting owings into what is sent, each as who is the site's custodian now; answers how
    many were claimed.
    """
    with looking_up(Purpose.SWEEP, write=True):
        claims = claim_rows(Owing, owner="custodian_id", limit=limit, lease=LEASE)
        rows = Owing.objects.filter(id__in=[claim.id for claim in claims])
        sites: dict[UUID, UUID | None] = dict(rows.values_list("id", "site_id"))
    for claim in claims:
        site_id = sites[claim.id]
        custodian_id = custodian_of(site_id) if site_id else claim.organization_id
        present = replace(claim, organization_id=custodian_id)
        guarded(Owing, present, _expand, tries=TRIES)
    return len(claims)


def _expand(claim: Claim) -> None:
    """One notice for each who is to be told, unless there is no reason for it any more."""
    with looking_up(Purpose.SWEEP):
        owing = Owing.objects.get(id=claim.id)
    if owing.stage in EventType.values:
        with transaction.atomic():
            expand_event(claim, owing)
            _foretell(claim, owing)
        return
    with acting_for(claim.organization_id, write=True):
        why = reasons_gone([owing]).get(owing.id, "")
        state = Owing.State.WITHDRAWN if why else Owing.State.DONE
        if end_claim(Owing, claim, state=state, problem=why) and not why:
            tell_people(owing)
            set_up_ladder(owing)


def _foretell(claim: Claim, owing: Owing) -> None:
    """What a visit lets one expect is worked out when it is told of, not while it is recorded."""
    from inspections.services.forecasts import (  # noqa: PLC0415 - what it foretells is owed here
        foretell,
    )

    if owing.stage == EventType.VISIT_RECORDED:
        with acting_for(claim.organization_id, write=True):
            foretell(visit_id=owing.thing)
