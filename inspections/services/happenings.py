"""What happened, left for those whose machines asked to be told, in the transaction of the deed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from doors.models import Grant, Job, Organization
from doors.selectors.organizations import acting_party
from doors.tenancy import acting_organization
from inspections.models import Deficiency, EventType, Owing


@dataclass(frozen=True, slots=True)
class Happening:
    """One event about one thing. `data` holds ids, versions and states; never a record's content.

    A thing of which the same can be said again has a `version` that tells the two apart.
    """

    type: EventType
    thing: UUID
    data: Mapping[str, Any]
    version: int = 1


def tell(
    *,
    happenings: Iterable[Happening],
    site_id: UUID | None,
    custodian_id: UUID,
    parties: Sequence[UUID] = (),
    author: Organization | None = None,
) -> None:
    """Leave one owing row for each. Whoever has sight of the site hears of it, and the `parties`;
    without a site, the acting organization and they alone. Who has read the `author`, the acting
    party, in this transaction hands it on.
    """
    author = author or acting_party()
    rows = [
        Owing.left(
            author,
            custodian_id,
            site_id=site_id,
            parties=[str(party) for party in parties],
            stage=each.type,
            thing=each.thing,
            thing_version=each.version,
            words=dict(each.data),
        )
        for each in happenings
    ]
    Owing.objects.bulk_create(rows)


_OF_STATE = {
    "open": EventType.DEFICIENCY_OPENED,
    "repaired": EventType.DEFICIENCY_REPAIRED,
    "proven": EventType.DEFICIENCY_PROVEN,
    "withdrawn": EventType.DEFICIENCY_WITHDRAWN,
}


def of_deficiency(deficiency: Deficiency) -> Happening:
    """That a deficiency has come into the state in which it is."""
    data = {
        "deficiency": str(deficiency.id),
        "opening": str(deficiency.opening_id),
        "state": deficiency.state,
        "version": deficiency.version,
        "path": f"/v1/deficiencies/{deficiency.id}",
    }
    return Happening(_OF_STATE[deficiency.state], deficiency.id, data, deficiency.version)


def tell_of_grant(*, grant: Grant, ended: bool) -> None:
    """That leave was given, or an end set to it (a reaction of the app below)."""
    data = {
        "grant": str(grant.id),
        "site": str(grant.site_id) if grant.site_id else None,
        "begins_on": grant.begins_on.isoformat(),
        "ends_on": grant.ends_on.isoformat() if grant.ends_on else None,
        "path": "/v1/grants",
    }
    type_ = EventType.GRANT_END_SET if ended else EventType.GRANT_GIVEN
    # An end may be set earlier and earlier, never twice to the same day.
    version = grant.ends_on.toordinal() if ended and grant.ends_on else 1
    tell(
        happenings=[Happening(type_, grant.id, data, version)],
        site_id=None,
        custodian_id=acting_organization(),
        parties=[grant.grantee_id, grant.owner_id],
    )


def tell_of_job(*, job: Job) -> None:
    """That long work has ended, well or not (a reaction of the app below)."""
    data = {
        "job": str(job.id),
        "kind": job.kind,
        "state": job.state,
        "path": f"/v1/jobs/{job.id}",
    }
    tell(
        happenings=[Happening(EventType.JOB_ENDED, job.id, data)],
        site_id=None,
        custodian_id=job.organization_id,
    )
