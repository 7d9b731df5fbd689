"""One wall broken at a time: the tests of that table must notice, or they show nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from django.db import connection, transaction
from django.db.models import Q

from tests.walls import tables
from tests.walls.tables import ADDED, CHANGED, DELETED, HOMES, MODELS, PUBLIC, TABLES
from tests.walls.test_tables import Crowd, crowd

__all__ = ["crowd"]
pytestmark = [pytest.mark.postgres, pytest.mark.django_db, pytest.mark.mutants]
WALLED = sorted(set(TABLES) - PUBLIC)
RULES = {
    "reading": "FOR SELECT USING (true)",
    "adding": "FOR INSERT WITH CHECK (true)",
    "changing": "FOR UPDATE USING (true) WITH CHECK (true)",
    "deleting": "FOR DELETE USING (true)",
}


@pytest.fixture
def broken() -> Iterator[Callable[[str], None]]:
    """Run statements as the tables' owner; all is mended when the test ends."""

    def break_(statements: str) -> None:
        with tables.owner_of_tables():
            tables.run("SET CONSTRAINTS ALL IMMEDIATE")
            tables.run(statements)

    with transaction.atomic():
        yield break_
        transaction.set_rollback(True)


def opened(table: str, policy: str) -> str:
    """The policy lets everything pass."""
    return f"DROP POLICY {policy} ON {table}; CREATE POLICY {policy} ON {table} {RULES[policy]}"


@pytest.mark.parametrize("table", WALLED)
def test_an_open_policy_for_reading_is_noticed(
    crowd: Crowd, broken: Callable[[str], None], table: str
) -> None:
    """Somebody sees what the manager would not show."""
    broken(opened(table, "reading"))
    with pytest.raises(AssertionError):
        tables.both_walls_agree(table, crowd.everybody)


@pytest.mark.parametrize("table", TABLES)
def test_a_dropped_policy_for_reading_is_noticed(
    crowd: Crowd, broken: Callable[[str], None], table: str
) -> None:
    """Nobody sees anything."""
    broken(f"DROP POLICY reading ON {table}")
    with pytest.raises(AssertionError):
        tables.both_walls_agree(table, crowd.everybody)


@pytest.mark.parametrize("table", WALLED)
def test_row_security_switched_off_is_noticed(
    crowd: Crowd, broken: Callable[[str], None], table: str
) -> None:
    """As if there were no second wall."""
    broken(f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY")
    with pytest.raises(AssertionError):
        tables.both_walls_agree(table, crowd.everybody)


@pytest.mark.parametrize("table", WALLED)
def test_a_manager_without_its_scope_is_noticed(
    crowd: Crowd, monkeypatch: pytest.MonkeyPatch, table: str
) -> None:
    """As if there were no first wall."""
    monkeypatch.setattr(MODELS[table], "visible_to", staticmethod(lambda _: Q()))
    with pytest.raises(AssertionError):
        tables.both_walls_agree(table, crowd.everybody)


@pytest.mark.parametrize("table", ADDED)
def test_an_open_policy_for_adding_is_noticed(
    crowd: Crowd, broken: Callable[[str], None], table: str
) -> None:
    """An outsider writes in another's name."""
    broken(opened(table, "adding"))
    with pytest.raises(AssertionError):
        tables.an_outsider_adds_nothing(table, crowd.outsider, crowd.cast)


@pytest.mark.parametrize("table", CHANGED)
def test_an_open_policy_for_changing_is_noticed(
    crowd: Crowd, broken: Callable[[str], None], table: str
) -> None:
    """An outsider reaches what it does not see."""
    broken(opened(table, "changing"))
    with pytest.raises(AssertionError):
        tables.an_outsider_changes_nothing(table, crowd.outsider)


@pytest.mark.parametrize("table", DELETED)
def test_an_open_policy_for_deleting_is_noticed(
    crowd: Crowd, broken: Callable[[str], None], table: str
) -> None:
    """An outsider deletes what it does not see."""
    broken(opened(table, "deleting"))
    with pytest.raises(AssertionError):
        tables.an_outsider_deletes_nothing(table, crowd.outsider)


@pytest.mark.parametrize("key", HOMES, ids=lambda key: f"{key[0]}.{key[1]}")
def test_a_key_without_its_home_is_noticed(
    crowd: Crowd, broken: Callable[[str], None], key: tuple[str, str, str, str]
) -> None:
    """A row hangs under another's."""
    table, column, parent, _ = key
    name = f"{table}_{column}_home"
    broken(
        f"ALTER TABLE {table} DROP CONSTRAINT {name}; ALTER TABLE {table} ADD CONSTRAINT {name}"
        f" FOREIGN KEY ({column}) REFERENCES {parent} (id) DEFERRABLE INITIALLY DEFERRED NOT VALID"
    )
    with pytest.raises(AssertionError):
        tables.a_key_holds_its_home(*key)


def test_what_is_broken_is_mended(crowd: Crowd) -> None:
    """Else one would be noticed for another's sake."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_policies WHERE qual = 'true' OR with_check = 'true'"
        )
        assert cursor.fetchone() == (0,)
