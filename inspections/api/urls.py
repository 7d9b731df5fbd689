"""Addresses of what was found and what follows."""

from __future__ import annotations

from django.urls import path, re_path

from inspections.api import (
    authority_reads,
    batches,
    deficiencies,
    deliveries,
    duties,
    measurements,
    notices,
    reported_visits,
    requirements,
    sandboxes,
    seals,
    submittals,
    untested,
    visits,
    webhooks,
)

urlpatterns = [
    path("places/<str:code>/requirements", requirements.PlaceRequirementsView.as_view()),
    path("openings/<uuid:opening_id>/requirements", requirements.RequirementsView.as_view()),
    path("measurements", measurements.MeasurementsView.as_view()),
    path("untested", untested.UntestedView.as_view()),
    path("visits", visits.VisitsView.as_view()),
    path("visits/batch", batches.VisitBatchView.as_view()),
    path("visits/<uuid:visit_id>", visits.VisitView.as_view()),
    path("reported-visits", reported_visits.ReportedVisitsView.as_view()),
    path("reported-visits/policy", reported_visits.ReportedVisitPolicyView.as_view()),
    path("reported-visits/<uuid:reported_id>", reported_visits.ReportedVisitView.as_view()),
    path(
        "reported-visits/<uuid:reported_id>/scan",
        reported_visits.ReportedVisitScanView.as_view(),
    ),
    path(
        "reported-visits/<uuid:reported_id>/withdrawal",
        reported_visits.ReportedVisitWithdrawalView.as_view(),
    ),
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
    path("submittals/untested", untested.FiledUntestedView.as_view()),
    path("submittals/changes", submittals.SubmittalChangesView.as_view()),
    path("submittals/<uuid:submittal_id>", submittals.SubmittalView.as_view()),
    path("submittals/<uuid:submittal_id>/file", submittals.SubmittalFileView.as_view()),
    path("submittals/<uuid:submittal_id>/answer", submittals.SubmittalAnswerView.as_view()),
    path("submittals/<uuid:submittal_id>/filings", submittals.SubmittalFilingsView.as_view()),
    path("sandboxes", sandboxes.SandboxesView.as_view()),
    path("sandboxes/<uuid:sandbox_id>", sandboxes.SandboxView.as_view()),
    path("sandboxes/<uuid:sandbox_id>/clock", sandboxes.SandboxClockView.as_view()),
    path("sandboxes/<uuid:sandbox_id>/end", sandboxes.SandboxEndView.as_view()),
    path(
        "sandboxes/<uuid:sandbox_id>/failing-visits", sandboxes.SandboxFailingVisitsView.as_view()
    ),
    path("sandboxes/<uuid:sandbox_id>/messages", sandboxes.SandboxMessagesView.as_view()),
    path("sandboxes/<uuid:sandbox_id>/reset", sandboxes.SandboxResetView.as_view()),
    path("webhooks", webhooks.WebhooksView.as_view()),
    path("webhooks/<uuid:webhook_id>", webhooks.WebhookView.as_view()),
    path("webhooks/<uuid:webhook_id>/end", webhooks.WebhookEndView.as_view()),
    path("webhooks/<uuid:webhook_id>/secrets", webhooks.WebhookSecretsView.as_view()),
    path("webhooks/<uuid:webhook_id>/test", webhooks.WebhookTestView.as_view()),
    path("webhook-deliveries", deliveries.DeliveriesView.as_view()),
    path("webhook-deliveries/<uuid:delivery_id>", deliveries.DeliveryView.as_view()),
    path("webhook-deliveries/<uuid:delivery_id>/redelivery", deliveries.RedeliveryView.as_view()),
    path("seals/<uuid:submittal_id>", seals.SubmittalSealView.as_view()),
    re_path("^seals/(?P<sha256>[0-9a-f]{64})$", seals.SealView.as_view()),
]
