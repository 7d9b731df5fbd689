"""Signing in to pages, and out of them."""

from __future__ import annotations

from django.contrib.auth import authenticate, login, logout
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from doors.web.base import email_in, page, wait

NOT_YOURS = "This address and this password do not go together."


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Ask for address and password; whichever of them is wrong is never told."""
    if request.method != "POST":
        return _form(request, email="", problem="")
    email = email_in(request)
    too_often = wait(request, email)
    if too_often is not None:
        return too_often
    account = authenticate(request, username=email, password=request.POST.get("password", ""))
    if account is None:
        return _form(request, email=email, problem=NOT_YOURS)
    login(request, account)  # under a new session id
    return HttpResponseRedirect(_next(request))


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the session here and in the database."""
    logout(request)
    return HttpResponseRedirect(reverse("sign-in"))


def _form(request: HttpRequest, *, email: str, problem: str) -> HttpResponse:
    changed = request.method == "GET" and "changed" in request.GET
    context = {"email": email, "problem": problem, "next": _next(request), "changed": changed}
    return page(request, "sign_in", context, status=422 if problem else 200)


def _next(request: HttpRequest) -> str:
    """Where to go on to: a page of ours, never another site."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts=None, require_https=request.is_secure()
    )
    return wanted if ours and wanted.startswith("/") else reverse("account")
