"""Addresses of parties, places and openings."""

from __future__ import annotations

from django.urls import path, re_path

from doors.api import (
    blobs,
    custody,
    devices,
    grants,
    jobs,
    jurisdictions,
    ledger,
    lives,
    me,
    openings,
    photos,
    places,
    sites,
)

SHA256 = "(?P<sha256>[0-9a-f]{64})"

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
    path("openings/<uuid:opening_id>/facts", lives.OpeningFactsView.as_view()),
    path("openings/<uuid:opening_id>/tags", lives.OpeningTagsView.as_view()),
    path("openings/<uuid:opening_id>/outages", lives.OutagesView.as_view()),
    path("openings/<uuid:opening_id>/outages/<uuid:outage_id>/end", lives.OutageEndView.as_view()),
    path("openings/<uuid:opening_id>/removal", lives.RemovalView.as_view()),
    path("openings/<uuid:opening_id>/replacement", lives.ReplacementView.as_view()),
    path("openings/<uuid:opening_id>/photos", photos.PhotosView.as_view()),
    path("openings/<uuid:opening_id>/photos/<uuid:photo_id>/file", photos.PhotoFileView.as_view()),
    path("blobs", blobs.BlobsView.as_view()),
    re_path(rf"^blobs/{SHA256}$", blobs.BlobView.as_view()),
    re_path(rf"^blobs/{SHA256}/file$", blobs.BlobFileView.as_view()),
    re_path(rf"^blobs/{SHA256}/original$", blobs.BlobOriginalView.as_view()),
    path("openings/<uuid:opening_id>/devices", devices.DevicesView.as_view()),
    path(
        "openings/<uuid:opening_id>/devices/<uuid:device_id>/end",
        devices.DeviceEndView.as_view(),
    ),
    path("openings/<uuid:opening_id>/batteries", devices.BatteriesView.as_view()),
    path(
        "openings/<uuid:opening_id>/batteries/<uuid:battery_id>/end",
        devices.BatteryEndView.as_view(),
    ),
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
