"""Each table by itself, on PostgreSQL: what each sees there, what an outsider may do, each key."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from django.conf import settings
from django.db import connection, transaction
from django.test import override_settings
from pytest_django import DjangoDbBlocker

from doors.models import Organization
from doors.services.organizations import register_organization
from tests.cast import Cast, assemble
from tests.walls import tables
from tests.walls.tables import ADDED, CHANGED, DELETED, HOMES, TABLES
from tests.walls.world import people

pytestmark = [pytest.mark.postgres, pytest.mark.django_db]


@dataclass(frozen=True)
class Crowd:
    """Everybody, and one with whom nobody has anything to do."""

    cast: Cast
    outsider: Organization

    @property
    def everybody(self) -> list[Organization]:
        """Who looks."""
        of = self.cast
        return [of.owner, of.firm, of.authority, of.neighbour, of.stranger, self.outsider]


@pytest.fixture(scope="module")
def crowd(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Crowd]:
    """A world in which every table has rows, made once, before the walls as the runtime role."""
    with django_db_blocker.unblock(), transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute(f"SET LOCAL ROLE {settings.RUNTIME_ROLE}")
        with override_settings(WEBHOOKS_TO_LOOPBACK=True):
            cast = assemble()
            people(cast)
        outsider = register_organization(name="Nobody's", capabilities=["owner", "inspector"])
        fill_what_is_empty(cast)
        yield Crowd(cast, outsider)
        transaction.set_rollback(True)


def fill_what_is_empty(cast: Cast) -> None:
    """Put a row of the owner's into each table that the world has left empty."""
    with tables.owner_of_tables():
        tables.run("SET CONSTRAINTS ALL IMMEDIATE; SET LOCAL session_replication_role = replica")
        for table in TABLES:
            if not tables.ids(table):
                tables.insert(table, tables.row_of(table, cast))
        tables.run("SET LOCAL session_replication_role = DEFAULT")


@pytest.mark.parametrize("table", TABLES)
def test_both_walls_agree(crowd: Crowd, table: str) -> None:
    """Each alone shows the same to everybody."""
    tables.both_walls_agree(table, crowd.everybody)


@pytest.mark.parametrize("table", ADDED)
def test_an_outsider_adds_nothing(crowd: Crowd, table: str) -> None:
    """Nothing in another's name."""
    tables.an_outsider_adds_nothing(table, crowd.outsider, crowd.cast)


@pytest.mark.parametrize("table", CHANGED)
def test_an_outsider_changes_nothing(crowd: Crowd, table: str) -> None:
    """Not even blindly."""
    tables.an_outsider_changes_nothing(table, crowd.outsider)


@pytest.mark.parametrize("table", DELETED)
def test_an_outsider_deletes_nothing(crowd: Crowd, table: str) -> None:
    """Not even blindly."""
    tables.an_outsider_deletes_nothing(table, crowd.outsider)


@pytest.mark.parametrize("key", HOMES, ids=lambda key: f"{key[0]}.{key[1]}")
def test_each_key_refuses_a_foreign_home(crowd: Crowd, key: tuple[str, str, str, str]) -> None:
    """Every foreign key between tables of a home, with an id of another home."""
    tables.a_key_holds_its_home(*key)
