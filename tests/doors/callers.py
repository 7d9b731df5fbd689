"""Whoever calls the API in a test: an organization with a key, and a client that sends it."""

from collections.abc import Collection, Iterable
from typing import Any, TypeAlias

from rest_framework.test import APIClient

from doors.models import Organization
from doors.services.keys import issue_key
from doors.services.organizations import register_organization
from doors.tenancy import acting_for

Answer: TypeAlias = Any  # the test client adds `json()` and more to a response when it runs


class Caller(APIClient):
    """A client of the service over its whole stack; failures come back as answers, not raised."""

    organization: Organization
    key: str


def caller(
    name: str = "Prairie Door Inspections",
    *,
    capabilities: Iterable[str] = ("inspector",),
    scopes: Collection[str] = ("visits:read", "visits:write"),
) -> Caller:
    """Register an organization, give it a key, and return its client."""
    organization = register_organization(name=name, capabilities=sorted(capabilities))
    with acting_for(organization.id, write=True):
        _, text = issue_key(label="test", scopes=scopes)
    client = Caller(raise_request_exception=False)
    client.organization, client.key = organization, text
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    return client
