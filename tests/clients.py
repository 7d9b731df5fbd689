"""HTTP clients of the cast: each with a key of its own organization and every scope."""

from __future__ import annotations

import secrets
from datetime import timedelta
from uuid import uuid4

from rest_framework.test import APIClient

from doors.models import EVERY_SCOPE, Key, Member, Organization
from doors.selectors.keys import compose, secret_digest
from doors.services.accounts import make_account
from doors.services.keys import issue_key
from doors.services.people import add_person
from doors.tenancy import acting_for

PASSWORD = "lantern quiet orchard 7"


def expired_key(organization: Organization) -> str:
    """The text of a key that ended yesterday, which no service would make."""
    lookup, secret = secrets.token_hex(8), secrets.token_hex(32)
    with acting_for(organization.id, write=True) as context:
        Key.objects.create(
            organization=organization,
            label="expired",
            lookup=lookup,
            secret_sha256=secret_digest(secret),
            scopes=sorted(EVERY_SCOPE),
            created_at=context.now - timedelta(days=2),
            expires_at=context.now - timedelta(days=1),
        )
    return compose(lookup, secret)


def client_of(organization: Organization) -> APIClient:
    """A client whose failures come back as answers."""
    with acting_for(organization.id, write=True):
        _, text = issue_key(label=f"test {uuid4()}", scopes=EVERY_SCOPE)
    client = APIClient(raise_request_exception=False)
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    return client


def member_of(
    organization: Organization, *, role: str, email: str = "", password: str = PASSWORD
) -> Member:
    """Somebody who signs in for an organization, as if they had been invited."""
    email = email or f"{uuid4()}@people.example"
    account = make_account(email=email, password=password, sandbox_id=organization.sandbox_id)
    with acting_for(organization.id, write=True) as context:
        person = add_person(name="Lou Marsh", email=email)
        return Member.objects.create(
            organization=organization,
            account=account,
            person=person,
            role=role,
            begins_at=context.now,
        )
