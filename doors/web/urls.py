"""Addresses of the pages."""

from __future__ import annotations

from django.urls import path

from doors.web import account, claim, passwords, sign_in

urlpatterns = [
    path("sign-in", sign_in.sign_in, name="sign-in"),
    path("sign-out", sign_in.sign_out, name="sign-out"),
    path("forgotten-password", passwords.forgotten, name="forgotten-password"),
    path("new-password", passwords.new, name="new-password"),
    path("account/password", passwords.change, name="change-password"),
    path("claim", claim.claim, name="claim"),
    path("account", account.account, name="account"),
    path("account/<uuid:organization_id>", account.organization, name="organization"),
    path("account/<uuid:organization_id>/keys", account.make_key, name="make-key"),
    path(
        "account/<uuid:organization_id>/keys/<uuid:key_id>/revocation",
        account.revoke,
        name="revoke-key",
    ),
]
