"""The page on which a token is used: nothing happens by opening it, all by sending its form."""

from __future__ import annotations

import unicodedata

from django.contrib.auth import authenticate, login
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from doors.errors import InvitationInvalidError, ServiceError
from doors.models import Account
from doors.names import fault_in_name
from doors.selectors.accounts import account_of
from doors.selectors.invitations import Invited, invited_by_token
from doors.services.joining import accept_invitation
from doors.web.base import page, wait
from doors.web.sign_in import NOT_YOURS

LONGEST_NAME = 200
BACKEND = "django.contrib.auth.backends.ModelBackend"


@sensitive_post_parameters("token", "password")
@require_http_methods(["GET", "HEAD", "POST"])
def claim(request: HttpRequest) -> HttpResponse:
    """Take the token, tell what it is for, and use it when its holder says so.

    The token comes in the address behind the #, which no server sees, and is put in the form by
    a script of ours, or by hand where scripts do not run.
    """
    if request.method != "POST":
        return page(request, "claim", {"problem": ""})
    too_often = wait(request, "invitation")
    if too_often is not None:
        return too_often
    token = request.POST.get("token", "").strip()
    invited = invited_by_token(token)
    if invited is None:
        return page(request, "claim", {"problem": InvitationInvalidError.detail}, status=422)
    if request.POST.get("step") != "accept":
        return _asked(request, token, invited)
    return _accepted(request, token, invited)


def _asked(
    request: HttpRequest, token: str, invited: Invited, *, name: str = "", problem: str = ""
) -> HttpResponse:
    """Tell what the token is for, and ask for what is still missing to use it."""
    signed_in_as = request.user if isinstance(request.user, Account) else None
    context = {
        "token": token,
        "invited": invited,
        "signed_in": signed_in_as is not None and signed_in_as.email == invited.email.lower(),
        "known": account_of(invited.email) is not None,
        "name": name,
        "problem": problem,
    }
    return page(request, "accept", context, status=422 if problem else 200)


def _accepted(request: HttpRequest, token: str, invited: Invited) -> HttpResponse:
    name = unicodedata.normalize("NFC", request.POST.get("name", "").strip())
    password = request.POST.get("password", "")
    account = request.user if isinstance(request.user, Account) else None
    if account is None and account_of(invited.email) is not None:
        found = authenticate(request, username=invited.email.lower(), password=password)
        account = found if isinstance(found, Account) else None
        if account is None:
            return _asked(request, token, invited, problem=NOT_YOURS)
    if not 0 < len(name) <= LONGEST_NAME or fault_in_name(name):
        return _asked(request, token, invited, problem="Write your name as people know it.")
    try:
        account, organization_id = accept_invitation(
            token=token, account=account, name=name, password=password
        )
    except ServiceError as refused:
        return _asked(request, token, invited, name=name, problem=refused.detail)
    login(request, account, backend=BACKEND)
    return HttpResponseRedirect(reverse("organization", args=[organization_id]))
