"""What every page has in common: never cached, for whom it is, and how often it may be tried."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, Concatenate, ParamSpec
from uuid import UUID

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.module_loading import import_string

from doors.models import Account
from doors.selectors.members import Membership, memberships_of

Rest = ParamSpec("Rest")


def page(
    request: HttpRequest, template: str, context: dict[str, Any], *, status: int = 200
) -> HttpResponse:
    """Render a page that no cache keeps.

    Without any referrer a browser sends its forms with `Origin: null`, which is refused.
    """
    response = render(request, f"pages/{template}.html", context, status=status)
    response["Cache-Control"] = "no-store"
    response["Referrer-Policy"] = "same-origin"
    return response


def email_in(request: HttpRequest) -> str:
    """The address of mail in a form, as accounts are known by it; no database keeps a NUL."""
    return request.POST.get("email", "").replace("\x00", "").strip().lower()[:254]


def signed_in(
    view: Callable[Concatenate[HttpRequest, Account, Rest], HttpResponse],
) -> Callable[Concatenate[HttpRequest, Rest], HttpResponse]:
    """Give the view the account that is signed in; send whoever is not to sign in first."""

    @functools.wraps(view)
    def guarded(request: HttpRequest, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponse:
        if isinstance(request.user, Account):
            return view(request, request.user, *args, **kwargs)
        return HttpResponseRedirect(f"{reverse('sign-in')}?{urlencode({'next': request.path})}")

    return guarded


def membership(account: Account, organization_id: UUID) -> Membership | None:
    """The account's place in that organization now; None as if there were no such thing."""
    served = memberships_of(account.id)
    return next((each for each in served if each.organization_id == organization_id), None)


def nothing_here(request: HttpRequest) -> HttpResponse:
    """The page of what does not exist for whoever asks."""
    return page(request, "nothing", {}, status=404)


def wait(request: HttpRequest, owner: str, *, by: str = "COUNT_ATTEMPT") -> HttpResponse | None:
    """Count an attempt against `owner` (whom it is an attempt on, never a secret) and the address
    it comes from, as the function does that the setting `by` names; where there were too many,
    the page that says to wait.
    """
    seconds: int | None = import_string(getattr(settings, by))(request, owner)
    if seconds is None:
        return None
    response = page(request, "wait", {"seconds": seconds}, status=429)
    response["Retry-After"] = str(seconds)
    return response
