"""What the acting organization may do on a site, read in the transaction that uses it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db.models import Q

from doors.errors import NotAllowedError, NotVisibleError, RefusedError
from doors.models import Opening, Organization, Sight
from doors.tenancy import Purpose, acting_for, acting_organization, current, looking_up

# A leave ended in the course of a day has ended when that day began.
_LONGEST_DAY = timedelta(hours=25)


def sight_of(site_id: UUID, *any_of: str) -> Sight:
    """A sight that allows one of these. Not visible and not existing answer alike."""
    sights = list(Sight.active(acting_organization(), current().now).filter(site_id=site_id))
    if not any(s.may_read for s in sights):
        raise NotVisibleError
    allowing = [s for s in sights if any(getattr(s, f"may_{may}") for may in any_of)]
    if not allowing:
        leave = " or ".join(any_of)
        raise NotAllowedError(f"Your organization has no leave to {leave} at this site.")
    return allowing[0]


def custodian_of(site_id: UUID) -> UUID:
    """Who answers for the site now, whoever asks."""
    with looking_up(Purpose.CUSTODY) as context:
        now = context.now
        own = Sight.objects.filter(site_id=site_id, grant=None, begins_at__lte=now)
        return own.get(Q(ends_at=None) | Q(ends_at__gt=now)).organization_id


@contextmanager
def as_custodian(site_id: UUID, custodian_id: UUID | None = None) -> Iterator[UUID]:
    """Work as the site's custodian, in the words of whoever acts: what follows from a record
    follows from all of it, also where the one who adds to it may not read the rest. Who has read
    in this transaction who that is, says so.
    """
    context, custodian_id = current(), custodian_id or custodian_of(site_id)
    if custodian_id == context.acting:
        yield custodian_id
        return
    with acting_for(
        custodian_id,
        write=True,
        key_id=context.key_id,
        author_id=context.author,
        savepoint=False,
    ):
        yield custodian_id


@dataclass(frozen=True, slots=True)
class Leave:
    """Leave to record at an opening, from that custodian; none where it had ended, and the visit
    was sent late.
    """

    site_id: UUID
    custodian_id: UUID | None = None

    @property
    def late(self) -> bool:
        """Whether it had ended when the visit was sent."""
        return self.custodian_id is None

    @contextmanager
    def taken(self) -> Iterator[UUID]:
        """Record under it; yields the custodian. Late, only the custodian sees the site."""
        if self.custodian_id is not None:
            yield self.custodian_id
        else:
            with as_custodian(self.site_id) as custodian_id:
                yield custodian_id


def leave_to_record(opening_id: UUID, performed_at: datetime) -> Leave:
    """Leave now; or leave that covered the visit and ended at most LATE_UPLOADS_KEPT_FOR ago."""
    seen = Opening.objects.filter(id=opening_id).values("site_id")
    active = Sight.active(acting_organization(), current().now).filter(site_id__in=seen)
    sights = active.values_list("site_id", "custodian_id", "may_record")
    here = sorted(sights, key=lambda sight: not sight[2])  # who sees an opening has some sight
    if here and here[0][2]:
        return Leave(here[0][0], here[0][1])
    site_id, ended = _ended_leave(opening_id)
    if ended:
        _refuse_unless_covered(ended, performed_at)
        return Leave(site_id)
    if not here:
        raise NotVisibleError
    raise NotAllowedError("Your organization has no leave to record at this site.")


def _ended_leave(opening_id: UUID) -> tuple[UUID, list[tuple[datetime, datetime]]]:
    """The site of an opening that stood while the acting organization had leave to record there,
    and from when to when it had. It knew the opening, so to be told why tells it nothing.
    """
    own = Sight.objects.filter(may_record=True, ends_at__lte=current().now)
    times = list(own.values_list("site_id", "begins_at", "ends_at").order_by("ends_at"))
    with looking_up(Purpose.CUSTODY):
        sites = {site_id for site_id, _, _ in times}
        opening = Opening.objects.filter(id=opening_id, site_id__in=sites).first()
    if opening is None:
        return opening_id, []
    here = [(begin, end) for site_id, begin, end in times if site_id == opening.site_id and end]
    known = opening.created_at - _LONGEST_DAY
    return opening.site_id, [(begin, end) for begin, end in here if end > known]


def _refuse_unless_covered(ended: list[tuple[datetime, datetime]], performed_at: datetime) -> None:
    covering = [end for begin, end in ended if begin <= performed_at < end]
    last = covering[-1] if covering else ended[-1][1]
    detail = f"Your leave to record here ended at {last.isoformat()}"
    if not covering:
        raise RefusedError.at("/performed_at", f"{detail}.")
    kept = settings.LATE_UPLOADS_KEPT_FOR
    if current().now >= last + kept:
        detail += f"; what was done before could be sent for {kept.days} days."
        raise RefusedError.at("/performed_at", detail)


def may_work(organization_id: UUID, site_id: UUID, any_of: Sequence[str]) -> str | None:
    """The name of another organization that may do one of these at a site now; None where it may
    not, or is not there.
    """
    with looking_up(Purpose.CUSTODY) as context:
        rows = Sight.active(organization_id, context.now).filter(site_id=site_id)
        if not any(getattr(sight, f"may_{may}") for sight in rows for may in any_of):
            return None
        return Organization.objects.values_list("name", flat=True).get(id=organization_id)
