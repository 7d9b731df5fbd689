"""Planning a duty: for which day, and by whom. Plans move no date and meet no duty."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.db import transaction

from doors.clock import civil_date
from doors.errors import RefusedError, WrongStateError
from doors.selectors.organizations import acting_party
from doors.selectors.sandboxes import working_now
from doors.selectors.sight import sight_of
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import current
from inspections.models import Duty, DutyPlan


@transaction.atomic
def plan_duty(*, duty_id: UUID, planned_on: date | None, by: str = "") -> DutyPlan:
    """Say on which day, at the site, a running duty is to be met and by whom; without a day the
    plan is taken back. A day that is past is no plan.
    """
    duty = visible(Duty.objects.select_related("opening__site").filter(id=duty_id))
    sight = sight_of(duty.site_id, "plan", "manage")
    if duty.standing != Duty.Standing.RUNNING:
        raise WrongStateError(f"It is {duty.standing}: there is nothing to plan.")
    today = civil_date(working_now(), duty.opening.site.time_zone)
    if planned_on is not None and planned_on < today:
        raise RefusedError.at("/planned_on", "This day is past at the site.")
    if planned_on is not None and not by:
        raise RefusedError.at("/by", "Say who is to do it.")
    author = acting_party()
    plan = DutyPlan.objects.create(
        site_id=duty.site_id,
        author=author,
        author_name=author.name,
        duty=duty,
        due_on=duty.due_on,
        planned_on=planned_on,
        by=by if planned_on else "",
        recorded_at=current().now,
    )
    content = {"planned_on": planned_on.isoformat() if planned_on else None}
    line = LedgerLine("duty_planned", duty.id, duty.site_id, content)
    write_ledger(custodian_id=sight.custodian_id, lines=[line])
    return plan
