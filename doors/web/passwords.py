"""A way back from a forgotten password, and another password for who is signed in."""

from __future__ import annotations

import time

from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from doors.errors import ServiceError
from doors.models import Account
from doors.services.accounts import change_password
from doors.services.passwords import ask_for_link, use_link
from doors.web.base import email_in, page, signed_in, wait

ANSWERED_AFTER = 0.25  # seconds, always: how long it took would tell whether the address is known
NOT_THE_OLD = "This is not the password you have now."


@require_http_methods(["GET", "HEAD", "POST"])
def forgotten(request: HttpRequest) -> HttpResponse:
    """Take an address, and say the same whether it is known or not."""
    if request.method != "POST":
        return page(request, "forgotten_password", {"asked": False})
    began = time.monotonic()
    email = email_in(request)
    too_often = wait(request, f"forgotten {email}")
    if too_often is not None:
        return too_often
    ask_for_link(email)
    time.sleep(max(0.0, began + ANSWERED_AFTER - time.monotonic()))
    return page(request, "forgotten_password", {"asked": True})


@sensitive_post_parameters("token", "password")
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Take a link's token and the password that is to be; opening the page spends nothing."""
    if request.method != "POST":
        return page(request, "new_password", {"problem": ""})
    too_often = wait(request, "new password")
    if too_often is not None:
        return too_often
    token = request.POST.get("token", "").strip()
    try:
        use_link(token=token, password=request.POST.get("password", ""))
    except ServiceError as refused:
        shown = {"problem": refused.detail, "token": token}
        return page(request, "new_password", shown, status=422)
    return HttpResponseRedirect(f"{reverse('sign-in')}?changed=1")


@sensitive_post_parameters("old", "password")
@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def change(request: HttpRequest, account: Account) -> HttpResponse:
    """Change the password for who knows the old one; every other session of the account ends."""
    if request.method != "POST":
        return page(request, "change_password", {"problem": "", "changed": False})
    too_often = wait(request, f"change {account.email}")
    if too_often is not None:
        return too_often
    if not account.check_password(request.POST.get("old", "")):
        return _refused(request, NOT_THE_OLD)
    try:
        change_password(account=account, password=request.POST.get("password", ""))
    except ServiceError as refused:
        return _refused(request, refused.detail)
    update_session_auth_hash(request, account)  # under a new session id
    return page(request, "change_password", {"problem": "", "changed": True})


def _refused(request: HttpRequest, problem: str) -> HttpResponse:
    return page(request, "change_password", {"problem": problem, "changed": False}, status=422)
