"""Addresses of what was found and what follows."""

from __future__ import annotations

from django.urls import path, re_path

from inspections.api import (
    authority_reads,
    batches,
    deficiencies,
    duties,
    notices,
    requirements,
    seals,
    submittals,
    visits,
)

urlpatterns = [
    path("places/<str:code>/requirements", requirements.PlaceRequirementsView.as_view()),
    path("openings/<uuid:opening_id>/requirements", requirements.RequirementsView.as_view()),
    path("visits", visits.VisitsView.as_view()),
    path("visits/batch", batches.VisitBatchView.as_view()),
    path("visits/<uuid:visit_id>", visits.VisitView.as_view()),
    path("duties", duties.DutiesView.as_view()),
    path("duties/calendar", duties.DutyCalendarView.as_view()),
    path("deficiencies", deficiencies.DeficienciesView.as_view()),
    path("deficiencies/<uuid:deficiency_id>", deficiencies.DeficiencyView.as_view()),
    path(
        "deficiencies/<uuid:deficiency_id>/interim-measures",
        deficiencies.InterimMeasuresView.as_view(),
    ),
    path("deficiencies/<uuid:deficiency_id>/repairs", deficiencies.RepairsView.as_view()),
    path("notices", notices.NoticesView.as_view()),
    path("authority-reads", authority_reads.AuthorityReadsView.as_view()),
    path("submittals", submittals.SubmittalsView.as_view()),
    path("submittals/changes", submittals.SubmittalChangesView.as_view()),
    path("submittals/<uuid:submittal_id>", submittals.SubmittalView.as_view()),
    path("submittals/<uuid:submittal_id>/file", submittals.SubmittalFileView.as_view()),
    path("submittals/<uuid:submittal_id>/filings", submittals.SubmittalFilingsView.as_view()),
    path("seals/<uuid:submittal_id>", seals.SubmittalSealView.as_view()),
    re_path("^seals/(?P<sha256>[0-9a-f]{64})$", seals.SealView.as_view()),
]
