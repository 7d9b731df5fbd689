"""Every page in a browser: readable by machine and keyboard, quiet on the console, no wider than
a telephone.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db import connection
from playwright.sync_api import Page, expect, sync_playwright

from doors.models import Role
from tests.cast import Cast, assemble
from tests.clients import PASSWORD, client_of, member_of
from tests.doors.test_organizations import OWNER

if TYPE_CHECKING:
    from pytest_django.live_server_helper import LiveServer

pytestmark = [
    pytest.mark.browser,
    pytest.mark.postgres,  # SQLite never forgets what is append-only, so nothing could follow
    pytest.mark.django_db(transaction=True),
]
EMAIL = "noor@firm.example"
_A_KEY = re.compile(r"fdk_[0-9a-f]{16}_[0-9a-f]{64}_[0-9a-f]{8}")
NARROW, WIDE = 360, 1000  # px


@pytest.fixture
def cast() -> Cast:
    """Everybody, committed, so that the server sees them."""
    return assemble()


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> Iterator[Page]:
    """A page that fails the test for whatever its console complains of."""
    # The browser's loop runs in this thread, beside the plain calls of the tests.
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    complaints: list[str] = []
    with sync_playwright() as running:
        browser = running.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        page = browser.new_page(viewport={"width": WIDE, "height": 800})
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda line: complaints.append(line.text) if line.type == "error" else None,
        )
        yield page
        browser.close()
        connection.close()  # beside the loop Django keeps another one than before and after it
    unexpected = [c for c in complaints if "status of 4" not in c]  # a refused form is one
    assert unexpected == []


def look(page: Page, name: str) -> None:
    """Hold what is shown against the rules of accessibility, wide and narrow; SHOTS names a
    folder for its pictures, where somebody wants to look as well.
    """
    found = Axe().run(page)
    assert found.violations_count == 0, f"{name}: {found.generate_report()}"
    for width in (NARROW, WIDE):
        page.set_viewport_size({"width": width, "height": 800})
        shown = page.evaluate("document.documentElement.scrollWidth")
        assert shown <= width, f"{name} needs {shown} px, and there are {width}"
        if (folder := os.environ.get("SHOTS")) is not None:
            page.screenshot(path=f"{folder}/{name}-{width}.png", full_page=True)


def test_an_owner_claims_in_the_browser(cast: Cast, page: Page, live_server: LiveServer) -> None:
    """From the link in the mail to the page of the organization that is now theirs."""
    firm = client_of(cast.firm)
    owner = firm.post("/v1/organizations", OWNER).json()["id"]
    sent = {"email": "wick@mill.example"}
    token = firm.post(f"/v1/organizations/{owner}/invitations", sent).json()["token"]
    page.goto(f"{live_server.url}/claim#{token}")
    expect(page.get_by_label("Invitation")).to_have_value(token)
    assert urlsplit(page.url).fragment == ""
    look(page, "claim")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Claim {OWNER['name']}")
    look(page, "accept")
    page.get_by_label("Your name").fill("Ivy Wickett")
    page.get_by_label("Choose a password").fill(PASSWORD)
    page.get_by_role("button", name="Claim").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(str(OWNER["name"]))
    look(page, "organization")
    page.goto(f"{live_server.url}/claim#{token}")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("alert")).to_contain_text("unknown, used, expired")
    look(page, "claim-refused")


def test_a_key_is_made_with_the_keyboard_alone(
    cast: Cast, page: Page, live_server: LiveServer
) -> None:
    """Sign in, make a key, read it, sign out: by Tab, Space and Enter."""
    member_of(cast.firm, role=Role.ADMINISTRATOR, email=EMAIL)
    page.goto(f"{live_server.url}/account")
    look(page, "sign-in")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the text")).to_be_focused()
    _type(page, "#email", EMAIL)
    _type(page, "#password", "not the password 1", "Enter")
    expect(page.get_by_role("alert")).to_be_visible()
    look(page, "sign-in-refused")
    _type(page, "#password", PASSWORD, "Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(cast.firm.name)
    look(page, "firm")
    _type(page, "#label", "Tablet 7")
    _type(page, "input[value='visits:read']", "", "Space")
    _type(page, "button:has-text('Make the key')", "", "Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("A new key")
    expect(page.get_by_label("The key")).to_have_value(_A_KEY)
    look(page, "key")
    page.get_by_role("link", name="Back to the keys").press("Enter")
    expect(page.get_by_role("row", name="Tablet 7")).to_be_visible()
    look(page, "keys")
    page.get_by_role("link", name="Password").press("Enter")
    look(page, "change-password")
    page.get_by_role("button", name="Sign out").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")


def test_a_forgotten_password_is_replaced(cast: Cast, page: Page, live_server: LiveServer) -> None:
    """From signing in to the form that takes the link, and what a spent one is told."""
    page.goto(f"{live_server.url}/sign-in")
    page.get_by_role("link", name="Forgotten your password?").click()
    look(page, "forgotten-password")
    page.get_by_label("Email address").fill(EMAIL)
    page.get_by_role("button", name="Send the link").click()
    expect(page.get_by_role("status")).to_contain_text("If there is an account")
    look(page, "forgotten-password-asked")
    token = f"fdp_{'0' * 32}_c0ffee-{'1' * 32}"
    page.goto(f"{live_server.url}/new-password#{token}")
    expect(page.get_by_label("behind the #")).to_have_value(token)
    assert urlsplit(page.url).fragment == ""
    look(page, "new-password")
    page.get_by_label("Choose a password").fill(PASSWORD)
    page.get_by_role("button", name="Set the password").click()
    expect(page.get_by_role("alert")).to_contain_text("unknown, used or expired")
    look(page, "new-password-refused")


def test_what_is_not_there_is_a_page_too(cast: Cast, page: Page, live_server: LiveServer) -> None:
    """And it leads somewhere."""
    member_of(cast.firm, role=Role.READER, email=EMAIL)
    page.goto(f"{live_server.url}/sign-in?next=/account/{cast.owner.id}")
    page.get_by_label("Email address").fill(EMAIL)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing here")
    look(page, "nothing")
    page.get_by_role("link", name="To your account").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(cast.firm.name)


def test_a_door_is_tested_and_reported(cast: Cast, page: Page, live_server: LiveServer) -> None:
    """By its code, in English and Spanish, with the keyboard where it matters."""
    owner = client_of(cast.owner)
    calls = [{"who": "Brass Lantern, day and night", "telephone": "+1 555 0100"}]
    made = owner.post(
        f"/v1/openings/{cast.opening.id}/door-codes", {"label": "strike", "calls": calls}
    ).json()
    address = f"{live_server.url}{urlsplit(made['url']).path}"
    page.goto(address)
    expect(page.get_by_role("heading", level=1)).to_have_text("Fire door A-1")
    look(page, "door")
    questions = page.locator("#sounding ~ form fieldset")
    for number, name in enumerate(("No", "Nothing", "Open", "I do not know")):
        questions.nth(number).get_by_label(name, exact=True).check()
    page.locator("#report-name").fill("Rosa Lind")
    page.get_by_role("button", name="Tell them").press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Your report is kept")
    look(page, "door-reported")
    page.get_by_role("link", name="Español").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Puerta cortafuego A-1")
    look(page, "door-es")
    for group in page.locator("#test ~ form fieldset").all():
        group.get_by_label("No", exact=True).check()
    page.locator("#test-name").fill("   ")
    page.get_by_role("button", name="Enviar la prueba").click()
    expect(page.get_by_role("alert")).to_contain_text("Falta algo")
    look(page, "door-refused-es")
    page.locator("#test-name").fill("Rosa Lind")
    page.get_by_role("button", name="Enviar la prueba").press("Enter")
    expect(page.get_by_role("status")).to_contain_text("no cumple lo que se probó")
    look(page, "door-tested-es")


def _type(page: Page, selector: str, text: str, *keys: str) -> None:
    """Go to a part of the page by Tab, and press the keys there."""
    wanted = page.locator(selector).first
    for _ in range(120):
        page.keyboard.press("Tab")
        if wanted.evaluate("each => each === document.activeElement"):
            break
    else:
        pytest.fail(f"Tab never reaches {selector}")
    page.keyboard.type(text)
    for key in keys:
        page.keyboard.press(key)
