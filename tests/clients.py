"""HTTP clients of the cast: each with a key of its own organization and every scope."""

from __future__ import annotations

from rest_framework.test import APIClient

from doors.models import EVERY_SCOPE, Organization
from doors.services.keys import issue_key
from doors.tenancy import acting_for


def client_of(organization: Organization) -> APIClient:
    """A client whose failures come back as answers."""
    with acting_for(organization.id, write=True):
        _, text = issue_key(label="test", scopes=EVERY_SCOPE)
    client = APIClient(raise_request_exception=False)
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    return client
