"""Who operates the service makes the first organizations."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from doors.api.base import TenantView
from doors.models import EVERY_SCOPE
from doors.selectors.keys import key_by_secret


def test_an_organization_and_its_key_are_made(db: None) -> None:
    """The key works at once and reaches everything."""
    said = StringIO()
    call_command("register_organization", "Harrow Mill", "--as", "owner", stdout=said)
    lines = dict(line.split(" ", 1) for line in said.getvalue().splitlines())
    found = key_by_secret(lines["key"])
    assert found is not None
    assert str(found.organization_id) == lines["organization"]
    assert (found.capabilities, found.scopes) == ({"owner"}, EVERY_SCOPE)


def test_a_capability_that_is_none_is_refused(db: None) -> None:
    """Before anything is made."""
    with pytest.raises(CommandError):
        call_command("register_organization", "Harrow Mill", "--as", "king")


def test_every_address_asks_for_a_scope_that_can_be_given() -> None:
    """A misspelt scope would shut its address to everybody."""
    views = [TenantView]
    for view in views:
        views += view.__subclasses__()
    asked = {view.scope for view in views if hasattr(view, "scope")}
    assert {f"{noun}:read" for noun in asked} <= EVERY_SCOPE


@pytest.mark.parametrize("name", ["", "Harrow\u200b Mill", "\u202eHarrow", " Harrow"])
def test_a_name_that_hides_something_is_refused(db: None, name: str) -> None:
    """As everywhere else."""
    with pytest.raises(CommandError):
        call_command("register_organization", name, "--as", "owner")
