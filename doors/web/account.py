"""The account page: one's organizations, their people, and their keys."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from doors.errors import ServiceError
from doors.models import ROLES, Account, Key, Organization, Person
from doors.names import fault_in_name
from doors.selectors.keys import live_keys
from doors.selectors.members import Membership, members, memberships_of
from doors.services.keys import issue_key, revoke_key
from doors.tenancy import acting_for, current
from doors.web.base import membership, nothing_here, page, signed_in

MOST_SHOWN = 200
LONGEST_LABEL = 200
LASTS = {"30": "30 days", "365": "a year", "": "until it is revoked"}


@require_safe
@signed_in
def account(request: HttpRequest, account: Account) -> HttpResponse:
    """Show where the account serves; where that is one place, that place."""
    served = memberships_of(account.id)
    if len(served) == 1:
        return HttpResponseRedirect(_address(served[0].organization_id))
    return page(request, "account", {"account": account, "served": served})


@require_safe
@signed_in
def organization(request: HttpRequest, account: Account, organization_id: UUID) -> HttpResponse:
    """Show one organization to who serves it: what it is called, its people, its keys."""
    place = membership(account, organization_id)
    return nothing_here(request) if place is None else _shown(request, place)


@require_http_methods(["POST"])
@signed_in
def make_key(request: HttpRequest, account: Account, organization_id: UUID) -> HttpResponse:
    """Make a key and show it this once."""
    place = membership(account, organization_id)
    if place is None or "keys:write" not in place.reach:
        return nothing_here(request)
    label = request.POST.get("label", "").strip()
    scopes = set(request.POST.getlist("scopes"))
    lasts = request.POST.get("lasts", "")
    if not 0 < len(label) <= LONGEST_LABEL or fault_in_name(label) or lasts not in LASTS:
        return _shown(request, place, problem="Give the key a plain name that says what it is for.")
    if not scopes:
        return _shown(request, place, problem="Choose at least one thing that the key may do.")
    try:
        with acting_for(organization_id, write=True) as context:
            expires_at = context.now + timedelta(days=int(lasts)) if lasts else None
            key, text = issue_key(
                label=label, scopes=scopes, expires_at=expires_at, reach=place.reach
            )
    except ServiceError as refused:
        return _shown(request, place, problem=refused.detail)
    return page(request, "key", {"place": place, "key": key, "text": text})


@require_POST
@signed_in
def revoke(
    request: HttpRequest, account: Account, organization_id: UUID, key_id: UUID
) -> HttpResponse:
    """End a key."""
    place = membership(account, organization_id)
    if place is None or "keys:write" not in place.reach:
        return nothing_here(request)
    try:
        with acting_for(organization_id, write=True):
            revoke_key(key_id=key_id)
    except ServiceError as refused:
        return _shown(request, place, problem=refused.detail)
    return HttpResponseRedirect(f"{_address(organization_id)}#keys")


def _shown(request: HttpRequest, place: Membership, *, problem: str = "") -> HttpResponse:
    with acting_for(place.organization_id, write=False):
        context = {
            "place": place,
            "organization": Organization.objects.get(id=place.organization_id),
            "people": list(Person.objects.filter(ended_at=None).order_by("name")[:MOST_SHOWN]),
            "members": list(members().filter(ends_at=None).order_by("begins_at")[:MOST_SHOWN]),
            "keys": _keys(place),
            "may_make_keys": "keys:write" in place.reach,
            "scopes": sorted(ROLES[place.role]),
            "lasts": LASTS.items(),
            "problem": problem,
            "now": current().now,
        }
    return page(request, "organization", context, status=422 if problem else 200)


def _keys(place: Membership) -> list[Key]:
    if "keys:read" not in place.reach:
        return []
    return list(live_keys().order_by("-created_at")[:MOST_SHOWN])


def _address(organization_id: UUID) -> str:
    return reverse("organization", args=[organization_id])
