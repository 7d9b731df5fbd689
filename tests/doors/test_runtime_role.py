"""The tests themselves stand before the walls, not above them."""

import pytest
from django.conf import settings
from django.db import ProgrammingError, connection, transaction

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def role() -> tuple[str, bool, bool]:
    """Return name, superuser and bypass of the role in force."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT rolname, rolsuper, rolbypassrls FROM pg_roles WHERE rolname = current_user"
        )
        found: tuple[str, bool, bool] = cursor.fetchone()
    return found


def test_a_test_runs_as_the_runtime_role() -> None:
    """Also after a reconnection; else every test of a wall would show nothing."""
    assert role() == (settings.RUNTIME_ROLE, False, False)
    connection.close()
    assert role() == (settings.RUNTIME_ROLE, False, False)


@pytest.mark.parametrize(
    "statement", ["TRUNCATE doors_key", "DROP TABLE doors_key", "ALTER TABLE doors_key ADD x int"]
)
def test_the_runtime_role_owns_nothing(statement: str) -> None:
    """It cannot clear or change a table."""
    with (
        pytest.raises(ProgrammingError),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)
