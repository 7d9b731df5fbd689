"""What protects people until a repair is proven: begun, ended early, and told of when it ends."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import structlog
from django.db import transaction
from django.db.models import Exists, Min, OuterRef, Q

from doors.clock import civil_date
from doors.errors import RefusedError, WrongStateError
from doors.selectors.openings import facts_on
from doors.selectors.organizations import acting_party
from doors.selectors.sight import custodian_of
from doors.selectors.visible import visible
from doors.services.ledger import LedgerLine, write_ledger
from doors.tenancy import Purpose, acting_for, current, lock_name, looking_up
from inspections.models import Deficiency, InterimMeasure, Owing, Stage
from inspections.selectors.deadlines import hours_of, policy_document
from inspections.selectors.deficiencies import STANDING
from inspections.services.deficiencies import WORKING, workable_deficiency, written_of
from inspections.services.moments import refuse_future
from inspections.services.owings import owe

log = structlog.get_logger(__name__)
SHUT = "secured_shut"
CLOSED = "closed_and_openable"
MEASURES = {
    CLOSED: "kept closed, and opening to a push as it should",
    "attendant": "a person posted at the opening",
    "fire_watch": "a fire watch with a log",
    "use_restricted": "fewer people, or none, in the space served",
    "detection_added": "detection or staff added meanwhile",
    "secured_open": "secured open, out of the way, with a person posted",
    SHUT: "secured or blocked shut",
}
WARN_BEFORE = "PT24H"  # where the custodian's policy says nothing: a custom of the trade
LONGEST_WARNING = timedelta(days=7)


@transaction.atomic
def record_interim_measure(
    *,
    deficiency_id: UUID,
    kind: str,
    words: str,
    responsible: str,
    begins_at: datetime,
    ends_at: datetime | None = None,
) -> InterimMeasure:
    """Record what protects people until the repair is proven.

    A door in a means of egress may not be secured shut, nor left closed when it will not open.
    """
    deficiency, custodian_id = workable_deficiency(deficiency_id, *WORKING)
    _refuse_blocked_egress(deficiency, kind)
    if ends_at is not None and ends_at <= begins_at:
        raise RefusedError.at("/ends_at", "An interim measure ends after it begins.")
    measure = InterimMeasure.objects.create(
        **written_of(deficiency),
        kind=kind,
        words=words,
        responsible=responsible,
        begins_at=begins_at,
        ends_at=ends_at,
    )
    content = {"deficiency": str(deficiency.id), "kind": kind}
    line = LedgerLine("interim_measure_recorded", measure.id, deficiency.site_id, content)
    write_ledger(custodian_id=custodian_id, lines=[line])
    return measure


def _refuse_blocked_egress(deficiency: Deficiency, kind: str) -> None:
    today = civil_date(current().now, deficiency.opening.site.time_zone)
    facts = facts_on(deficiency.opening, today).facts
    in_egress = facts.get("means_of_egress") is not False  # unknown counts as yes
    will_not_open = Deficiency.objects.filter(
        opening_id=deficiency.opening_id, state__in=STANDING, protects="egress"
    ).exists()
    if in_egress and kind == SHUT:
        detail = "A door in a means of egress may not be secured shut."
        raise RefusedError.at("/kind", detail)
    if in_egress and kind == CLOSED and will_not_open:
        detail = "A door that does not open as it must may not be left closed in a way out."
        raise RefusedError.at("/kind", detail)


@transaction.atomic
def stop_interim_measure(
    *, deficiency_id: UUID, measure_id: UUID, stopped_at: datetime, because: str
) -> InterimMeasure:
    """End an interim measure before its time; people are protected by it no more from then on."""
    deficiency, custodian_id = workable_deficiency(deficiency_id, *WORKING)
    rows = InterimMeasure.objects.select_for_update()
    measure = visible(rows.filter(id=measure_id, deficiency=deficiency))
    if measure.stopped_at is not None:
        raise WrongStateError("This interim measure was ended already.")
    refuse_future(stopped_at, "/stopped_at", "It has not been ended yet.")
    if stopped_at < measure.begins_at or (measure.ends_at and stopped_at >= measure.ends_at):
        detail = "It is ended while it runs: after it begins, and before its own end."
        raise RefusedError.at("/stopped_at", detail)
    measure.stopped_at, measure.stopped_because = stopped_at, because
    measure.stopped_by = acting_party().name
    measure.save(update_fields=["stopped_at", "stopped_by", "stopped_because"])
    content = {"deficiency": str(deficiency.id), "stopped_at": stopped_at.isoformat()}
    line = LedgerLine("interim_measure_stopped", measure.id, deficiency.site_id, content)
    write_ledger(custodian_id=custodian_id, lines=[line])
    return measure


def alarm_of_measures(*, limit: int = 200) -> int:
    """Owe the notices of interim measures that run out soon, or have; answers how many. Each is
    owed once at each stage, and none for a deficiency that has ended.

    `limit` is of what is owed and not of the sites looked at: one of which nothing is to be told
    yet keeps no other from its turn.
    """
    with looking_up(Purpose.SWEEP) as context:
        soon = _untold(context.now + LONGEST_WARNING).values("site_id")
        first = soon.annotate(first=Min("ends_at")).order_by("first", "site_id")
        sites = [row["site_id"] for row in first]
    owed = 0
    for site_id in sites:
        owed += _guarded(site_id)
        if owed >= limit:
            break
    return owed


def _guarded(site_id: UUID) -> int:
    """A site of which nothing can be owed holds no other up; the next scan looks at it again."""
    try:
        return _alarm_at(site_id)
    except Exception:
        log.exception("measures_not_looked_at", site_id=str(site_id))
        return 0


def _untold(until: datetime) -> Any:  # noqa: ANN401 - a queryset of measures, annotated
    told = Owing.objects.filter(thing=OuterRef("id"))
    rows = InterimMeasure.objects.filter(
        ends_at__lte=until, stopped_at=None, deficiency__state__in=STANDING
    )
    rows = rows.exclude(Exists(told.filter(stage=Stage.INTERIM_MEASURE_EXPIRED)))
    warned = Exists(told.filter(stage=Stage.INTERIM_MEASURE_EXPIRING))
    # Warned of already and still running: there is nothing to tell before it has run out.
    return rows.exclude(Q(ends_at__gt=current().now) & Q(warned))


def _alarm_at(site_id: UUID) -> int:
    """As the custodian, whose people are told and whose policy says how long before."""
    with acting_for(custodian_of(site_id), write=True) as context:
        lock_name(f"interim measures of {site_id}")
        _, policy = policy_document()
        before = timedelta(hours=hours_of(policy.get("warn_before") or WARN_BEFORE))
        rows = _untold(context.now + min(before, LONGEST_WARNING)).filter(site_id=site_id)
        owed = list(rows.select_related("deficiency__opening__site").order_by("ends_at", "id"))
        for measure in owed:
            ended = measure.ends_at <= context.now
            stage = Stage.INTERIM_MEASURE_EXPIRED if ended else Stage.INTERIM_MEASURE_EXPIRING
            site = measure.deficiency.opening.site
            owe(site=site, stage=stage, thing=measure.id, words=_words(measure))
        return len(owed)


def _words(measure: InterimMeasure) -> Mapping[str, Any]:
    deficiency, opening = measure.deficiency, measure.deficiency.opening
    assert measure.ends_at is not None  # noqa: S101 (only those with an end are looked for)
    ends_at = measure.ends_at.astimezone(ZoneInfo(opening.site.time_zone))
    return {
        "site": opening.site.name,
        "opening": opening.tag,
        "location": opening.location,
        "title": deficiency.title,
        "measure": MEASURES[measure.kind],
        "words": measure.words,
        "responsible": measure.responsible,
        "ends_at": f"{ends_at:%Y-%m-%d %H:%M}",
        "recorded_by": measure.author_name,
    }
