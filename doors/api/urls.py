"""Addresses of parties, places and openings."""

from __future__ import annotations

from django.urls import path

from doors.api import (
    custody,
    grants,
    jobs,
    jurisdictions,
    ledger,
    me,
    openings,
    places,
    sites,
)

urlpatterns = [
    path("me", me.MeView.as_view()),
    path("sites", sites.SitesView.as_view()),
    path("sites/<uuid:site_id>", sites.SiteView.as_view()),
    path("sites/<uuid:site_id>/custody", custody.CustodiesView.as_view()),
    path("sites/<uuid:site_id>/places", places.SitePlacesView.as_view()),
    path("custody-offers", custody.CustodyOffersView.as_view()),
    path("custody-offers/<uuid:offer_id>", custody.CustodyOfferView.as_view()),
    path("custody-offers/<uuid:offer_id>/acceptance", custody.CustodyAcceptanceView.as_view()),
    path("custody-offers/<uuid:offer_id>/refusal", custody.CustodyRefusalView.as_view()),
    path("custody-offers/<uuid:offer_id>/withdrawal", custody.CustodyWithdrawalView.as_view()),
    path("openings", openings.OpeningsView.as_view()),
    path("openings/<uuid:opening_id>", openings.OpeningView.as_view()),
    path("jurisdictions", jurisdictions.JurisdictionsView.as_view()),
    path("overrides", jurisdictions.OverridesView.as_view()),
    path(
        "overrides/<uuid:override_id>/publication",
        jurisdictions.OverridePublicationView.as_view(),
    ),
    path("grants", grants.GrantsView.as_view()),
    path("grants/<uuid:grant_id>", grants.GrantView.as_view()),
    path("grants/<uuid:grant_id>/end", grants.GrantEndView.as_view()),
    path("ledger", ledger.LedgerView.as_view()),
    path("ledger/verification", ledger.LedgerVerificationView.as_view()),
    path("jobs/<uuid:job_id>", jobs.JobView.as_view()),
]
