"""Each night every duty is computed anew and held against what is stored; nothing is mended here.

A difference means that something moved without moving its duties: it is kept, counted, and told
to the custodian's people, so that somebody finds out why before anything is put right.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import UUID

import structlog
from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Sum

from doors.models import Opening, Site
from doors.selectors.sight import custodian_of
from doors.services.claims import Claim, claim_rows, guarded, release_claim
from doors.tenancy import Purpose, acting_for, current, looking_up
from inspections.models import Duty, DutyDifference, DutyProof, Owing, Stage
from inspections.selectors.duties import duty_windows
from inspections.services.duties import shown
from inspections.services.owings import owe

EVERY = timedelta(days=1)
LEASE = timedelta(minutes=15)
TRIES = 32_000  # a proof is claimed once a night for ever
log = structlog.get_logger(__name__)


def prove_duties(*, limit: int = 5) -> int:
    """Prove the sites whose night has come; answers how many were looked at."""
    with looking_up(Purpose.SWEEP, write=True):
        _begin_missing()
        claims = claim_rows(DutyProof, owner="site_id", limit=limit, lease=LEASE)
    for claim in claims:
        present = replace(claim, organization_id=custodian_of(claim.organization_id))
        guarded(DutyProof, present, _prove, tries=TRIES)
    return len(claims)


def prove_all_now() -> Iterator[tuple[UUID, int, int]]:
    """Prove every site at once, for whoever operates the service: site, openings, differences."""
    with looking_up(Purpose.SWEEP, write=True) as context:
        _begin_missing()
        waiting = DutyProof.objects.filter(state=DutyProof.State.WAITING)
        waiting.update(not_before=context.now)
    while prove_duties():
        pass
    with looking_up(Purpose.SWEEP):
        rows = DutyProof.objects.order_by("site_id")
        yield from list(rows.values_list("site_id", "openings", "differences"))


def duties_that_differ() -> int:
    """How many duties differed when each site was proven last."""
    with looking_up(Purpose.SWEEP):
        found = DutyProof.objects.aggregate(all=Sum("differences"))
    return int(found["all"] or 0)


def _begin_missing() -> None:
    """A first proof for each site that has none."""
    with looking_up(Purpose.CUSTODY) as context:
        sites = set(Site.objects.values_list("id", flat=True))
    known = set(DutyProof.objects.values_list("site_id", flat=True))
    rows = [
        DutyProof(site_id=site_id, created_at=context.now, not_before=context.now + EVERY)
        for site_id in sites - known
    ]
    DutyProof.objects.bulk_create(rows, ignore_conflicts=True)


def _prove(claim: Claim) -> None:
    with acting_for(claim.organization_id, write=True):
        proof = DutyProof.objects.get(id=claim.id)
        openings = list(Opening.objects.filter(site_id=proof.site_id).select_related("site"))
        found = [row for opening in openings for row in _differences(opening)]
        DutyDifference.objects.bulk_create(found)
        proven = {"proven_at": current().now, "openings": len(openings), "differences": len(found)}
        DutyProof.objects.filter(id=proof.id).update(**proven)
        release_claim(DutyProof, claim, wait=EVERY)
        if found:
            _alarm(openings[0].site, proof, found)


def _alarm(site: Site, proof: DutyProof, found: list[DutyDifference]) -> None:
    log.error("duties_differ", site_id=str(site.id), count=len(found))
    words = {
        "site": site.name,
        "found_on": current().now.date().isoformat(),
        "doors": sorted({row.opening.tag for row in found})[:20],
        "count": len(found),
    }
    day = current().now.date().toordinal()
    meaning: dict[str, Any] = {
        "stage": Stage.DUTIES_DIFFER,
        "thing": proof.id,
        "thing_version": day,
    }
    if not Owing.objects.filter(**meaning).exists():  # one mail a day, however often it is proven
        owe(site=site, words=words, **meaning)


def _differences(opening: Opening) -> Iterator[DutyDifference]:
    stored = {duty.requirement: duty for duty in Duty.objects.filter(opening=opening)}
    computed = {window["requirement"]: shown(window) for window in duty_windows(opening)}
    for requirement in sorted(stored.keys() | computed.keys()):
        duty, wanted = stored.get(requirement), computed.get(requirement)
        if wanted is None and duty is not None and duty.standing == Duty.Standing.ENDED:
            continue  # owed once, and asked for by nothing any more
        names = wanted or ("standing",)
        standing = {name: getattr(duty, name) for name in names} if duty else None
        if standing != wanted:
            yield DutyDifference(
                site_id=opening.site_id,
                opening=opening,
                requirement=requirement,
                stored=_plain(standing),
                computed=_plain(wanted),
                found_at=current().now,
            )


def _plain(fields: Mapping[str, Any] | None) -> Any:  # noqa: ANN401 (what JSON holds)
    return json.loads(json.dumps(fields, cls=DjangoJSONEncoder))
