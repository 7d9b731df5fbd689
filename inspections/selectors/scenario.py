"""The invented town of the demonstration, as its fixtures describe it."""

from __future__ import annotations

import json
import tomllib
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
from django.conf import settings


class Plan(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A part of the fixtures; a name nobody reads is refused, not passed over."""


class Person(Plan, frozen=True):
    """Somebody of an organization."""

    name: str
    email: str
    telephone: str
    position: str
    receives_notices: bool


class Party(Plan, frozen=True):
    """An organization, with the label and the scopes of the key its client works with."""

    role: str
    name: str
    capabilities: list[str]
    address: list[str]
    key: str
    scopes: list[str]
    person: list[Person] = []


class Town(Plan, frozen=True):
    """The place whose authority governs every site; it lies directly under the country."""

    code: str
    name: str
    kind: str
    time_zone: str
    authority: str


class GrantPlan(Plan, frozen=True):
    """What an owner lets the firm do, by role."""

    owner: str
    grantee: str
    actions: list[str]
    begins_on: date
    reason: str


class Parties(Plan, frozen=True):
    """Everybody, and the place."""

    jurisdiction: Town
    organization: list[Party]
    grant: list[GrantPlan]


class OpeningPlan(Plan, frozen=True):
    """One opening; `facts` are what differs from its type."""

    tag: str
    location: str
    floor: str
    door_type: str
    facts: dict[str, Any]


class SitePlan(Plan, frozen=True):
    """One building, its owner by role."""

    owner: str
    reference: str
    name: str
    address: list[str]
    time_zone: str
    in_custody_from: date
    opening: list[OpeningPlan]


class Openings(Plan, frozen=True):
    """The buildings, and what is so at all openings or at all of a type."""

    facts: dict[str, Any]
    type: dict[str, dict[str, Any]]
    instructions: dict[str, list[dict[str, Any]]]
    site: list[SitePlan]

    def facts_of(self, opening: OpeningPlan) -> dict[str, Any]:
        """The facts of one opening, the particular over the general."""
        return {**self.facts, **self.type[opening.door_type], **opening.facts}


def folder() -> Path:
    """Where the fixtures of the demonstration lie."""
    return Path(settings.BASE_DIR) / "fixtures" / "demo"


def table(name: str) -> dict[str, Any]:
    """One TOML file of the fixtures."""
    return tomllib.loads((folder() / f"{name}.toml").read_text(encoding="utf-8"))


@cache
def parties() -> Parties:
    """Who takes part."""
    return msgspec.convert(table("parties"), Parties)


@cache
def openings() -> Openings:
    """Where the doors are."""
    return msgspec.convert(table("openings"), Openings)


def trace(name: str) -> dict[str, Any]:
    """The samples of one trace, as a client sends them."""
    found: dict[str, Any] = json.loads((folder() / name).read_text(encoding="utf-8"))
    return found


def override_document(begins_on: date) -> str:
    """What the authority publishes, holding from that day."""
    text = (folder() / "quarterly_operation_test.toml").read_text(encoding="utf-8")
    return text.replace("from = BEGINS_ON", f"from = {begins_on.isoformat()}")
