"""Where a request comes from is what our own proxies saw, wherever it is used."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.test import Client
from pytest_django import Settings

from config.http import budgets
from config.http.buckets import MemoryStore
from doors.api.base import TenantView
from doors.models import Role
from doors.tenancy import current
from tests.cast import Cast
from tests.clients import member_of
from tests.config.test_logs import lines, written
from tests.doors.callers import caller
from tests.doors.web.test_sign_in import EMAIL, sign_in

__all__ = ["written"]
OURS = "192.0.2.1"


def behind(*entries: str) -> dict[str, str]:
    """The header as it arrives: what the caller wrote, then what our proxy saw."""
    return {"X-Forwarded-For": ", ".join(entries)}


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("proxies", "entries", "seen"),
    [
        (0, [OURS], "127.0.0.1"),
        (1, ["198.51.100.9", OURS], OURS),
        (1, ["nonsense", OURS], OURS),
        (2, ["198.51.100.9", OURS, "10.0.0.1"], OURS),
        (1, ["198.51.100.9", "nonsense"], "127.0.0.1"),
    ],
)
def test_the_context_of_a_request_knows_it(
    settings: Settings,
    monkeypatch: pytest.MonkeyPatch,
    proxies: int,
    entries: list[str],
    seen: str,
) -> None:
    """It stands in the line of what an authority read."""
    settings.PROXIES_BEFORE_US = proxies
    found: list[str | None] = []
    render = TenantView.render

    def noted(self: TenantView, response: object) -> object:
        found.append(current().source_address)
        return render(self, response)  # type: ignore[arg-type]

    monkeypatch.setattr(TenantView, "render", noted)
    answer = caller(scopes=["visits:read"]).get("/v1/visits", headers=behind(*entries))
    assert answer.status_code == 200
    assert found == [seen]


def test_attempts_to_sign_in_are_counted_by_it(
    cast: Cast, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another invented address each time is no other caller; another real one is."""
    settings.PROXIES_BEFORE_US = 1
    settings.RATE_LIMITS = settings.RATE_LIMITS | {"sign_in": (3, 3600)}
    fresh = MemoryStore()
    monkeypatch.setattr(budgets, "store", lambda: fresh)
    member_of(cast.firm, role=Role.READER, email=EMAIL)
    found = [
        sign_in(Client(headers=behind(f"198.51.100.{n}", OURS)), password="wrong").status_code
        for n in range(5)
    ]
    assert found == [422, 422, 422, 429, 429]
    assert sign_in(Client(headers=behind(OURS, "192.0.2.2"))).status_code == 302


@pytest.mark.django_db
def test_the_log_names_it(written: object, monkeypatch: pytest.MonkeyPatch) -> None:
    """And not whom the caller claims to be."""
    monkeypatch.setattr(settings, "PROXIES_BEFORE_US", 1)
    caller(scopes=["visits:read"]).get("/v1/visits", headers=behind("198.51.100.9", OURS))
    told = [each["ip"] for each in lines(written) if "ip" in each]  # type: ignore[arg-type]
    assert told
    assert set(told) == {OURS}


@pytest.mark.django_db
def test_without_an_address_everything_goes_on() -> None:
    """Behind a socket of this machine the server knows none."""
    assert caller(scopes=["visits:read"]).get("/v1/visits", REMOTE_ADDR="").status_code == 200
    assert Client(REMOTE_ADDR="").get("/sign-in").status_code == 200
