"""What the history of an opening is made of: each kind of thing that happens, from its own table.

Every source reads through the walls by itself, so a history holds what its reader may see alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from doors.models import Battery, Device, Opening, OpeningFacts, OpeningTag, Outage, Photo
from inspections.models import Deficiency, InterimMeasure, Repair, ReportedVisit
from inspections.selectors import history_rows as rows
from inspections.selectors import history_words as words

_AT = "/v1/openings/{opening}"
_DEFICIENCY = "/v1/deficiencies/{deficiency_id}"


@dataclass(frozen=True, slots=True)
class Source:
    """One kind: the rows of an opening, the column that says when, and what is told of each.

    `scope` is the noun of which a key needs the read scope. `needs` are the columns beside id and
    `moment`; `path` is filled from them. `who` names the column, or annotation, of who did it.
    """

    kind: str
    scope: str
    rows: Callable[[Opening], QuerySet[Any]]
    moment: str
    what: Callable[[Any], str]
    path: str
    needs: tuple[str, ...]
    who: str = ""


_DEFICIENCY_NEEDS = ("title", "words", "author_name", "reason")
_FILING_NEEDS = ("submittal_id", "state", "remarks", "author_name", "authority_name")
_OUTAGE = (f"{_AT}/outages", ("reason",))
_DEVICE = (f"{_AT}/devices", ("kind", "words", "place", "reference"))
_BATTERY = (f"{_AT}/batteries", ("battery_type", "quantity"))
_VISIT_NEEDS = ("activity", "verdict", "attested_by", "author_name", "reason")
_REPORTED_NEEDS = ("activity", "performed_by", "outcome", "author_name", "withdrawal_reason")
_PHOTO_NEEDS = ("caption", "author_name", "withdrawn_by", "withdrawal_reason")

SOURCES = (
    Source("opening_added", "openings", rows.itself, "created_at", words.added, _AT, ("tag",)),
    Source(
        "opening_removed",
        "openings",
        rows.itself,
        "removed_on",
        words.removed,
        _AT,
        ("removal_reason",),
    ),
    Source(
        "facts_recorded",
        "openings",
        rows.of(OpeningFacts),
        "begins_on",
        words.facts,
        f"{_AT}/facts",
        ("facts",),
    ),
    Source(
        "tag_given",
        "openings",
        rows.of(OpeningTag),
        "begins_on",
        words.tag,
        f"{_AT}/tags",
        ("tag",),
    ),
    Source("out_of_service", "openings", rows.of(Outage), "begins_on", words.out, *_OUTAGE),
    Source("back_in_service", "openings", rows.of(Outage), "ends_on", words.back, *_OUTAGE),
    Source("device_fitted", "openings", rows.of(Device), "begins_on", words.device_in, *_DEVICE),
    Source("device_taken_out", "openings", rows.of(Device), "ends_on", words.device_out, *_DEVICE),
    Source(
        "battery_fitted", "openings", rows.of(Battery), "begins_on", words.battery_in, *_BATTERY
    ),
    Source(
        "battery_taken_out", "openings", rows.of(Battery), "ends_on", words.battery_out, *_BATTERY
    ),
    Source(
        "custody_began",
        "custody",
        rows.custodies,
        "begins_on",
        words.custody,
        "/v1/sites/{site}/custody",
        ("owner_name",),
        "owner_name",
    ),
    Source(
        "photo_added",
        "openings",
        rows.of(Photo),
        "recorded_at",
        words.photo,
        f"{_AT}/photos",
        _PHOTO_NEEDS,
        "author_name",
    ),
    Source(
        "photo_withdrawn",
        "openings",
        rows.of(Photo),
        "withdrawn_at",
        words.photo_withdrawn,
        f"{_AT}/photos",
        _PHOTO_NEEDS,
        "withdrawn_by",
    ),
    Source(
        "visit_recorded",
        "visits",
        rows.visits(corrections=False),
        "performed_at",
        words.visit,
        "/v1/visits/{id}",
        _VISIT_NEEDS,
        "author_name",
    ),
    Source(
        "visit_corrected",
        "visits",
        rows.visits(corrections=True),
        "received_at",
        words.correction,
        "/v1/visits/{id}",
        _VISIT_NEEDS,
        "author_name",
    ),
    Source(
        "visit_reported",
        "visits",
        rows.of(ReportedVisit),
        "performed_on",
        words.reported,
        "/v1/reported-visits/{id}",
        _REPORTED_NEEDS,
        "author_name",
    ),
    Source(
        "reported_visit_withdrawn",
        "visits",
        rows.of(ReportedVisit),
        "withdrawn_at",
        words.reported_withdrawn,
        "/v1/reported-visits/{id}",
        _REPORTED_NEEDS,
        "author_name",
    ),
    Source(
        "deficiency_opened",
        "deficiencies",
        rows.of(Deficiency),
        "opened_at",
        words.deficiency,
        "/v1/deficiencies/{id}",
        _DEFICIENCY_NEEDS,
        "author_name",
    ),
    Source(
        "deficiency_repaired",
        "deficiencies",
        rows.about(Repair),
        "done_at",
        words.repair,
        _DEFICIENCY,
        ("deficiency_id", "words", "done_by", "author_name"),
        "author_name",
    ),
    Source(
        "deficiency_proven",
        "deficiencies",
        rows.proven,
        "ended_at",
        words.proven,
        "/v1/deficiencies/{id}",
        _DEFICIENCY_NEEDS,
        "proven_by_name",
    ),
    Source(
        "deficiency_withdrawn",
        "deficiencies",
        rows.withdrawn,
        "ended_at",
        words.withdrawn,
        "/v1/deficiencies/{id}",
        _DEFICIENCY_NEEDS,
    ),
    Source(
        "interim_measure_recorded",
        "deficiencies",
        rows.about(InterimMeasure),
        "begins_at",
        words.measure,
        _DEFICIENCY,
        ("deficiency_id", "kind", "words", "responsible", "author_name"),
        "author_name",
    ),
    Source(
        "interim_measure_stopped",
        "deficiencies",
        rows.about(InterimMeasure),
        "stopped_at",
        words.measure_stopped,
        _DEFICIENCY,
        ("deficiency_id", "words", "stopped_because", "stopped_by"),
        "stopped_by",
    ),
    Source(
        "submittal_assembled",
        "submittals",
        rows.packets,
        "assembled_at",
        words.assembled,
        "/v1/submittals/{id}",
        ("author_name",),
        "author_name",
    ),
    Source(
        "submittal_filed",
        "submittals",
        rows.filings,
        "filed_at",
        words.filed,
        "/v1/submittals/{submittal_id}",
        _FILING_NEEDS,
        "author_name",
    ),
    Source(
        "submittal_answered",
        "submittals",
        rows.filings,
        "answered_at",
        words.answered,
        "/v1/submittals/{submittal_id}",
        _FILING_NEEDS,
        "authority_name",
    ),
    Source(
        "submittal_amended",
        "submittals",
        rows.amendments,
        "recorded_at",
        words.amended,
        "/v1/submittals/{submittal_id}",
        ("submittal_id", "reason", "author_name"),
        "author_name",
    ),
)
KINDS = tuple(source.kind for source in SOURCES)
