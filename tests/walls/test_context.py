"""Nothing of a tenant is touched without saying on whose behalf, on either database."""

from __future__ import annotations

from contextlib import suppress

import pytest
from django.apps import apps
from django.conf import settings
from django.db import connection, models, transaction
from django.db.utils import ProgrammingError

from doors.models import LedgerEntry, Opening, Organization
from doors.tenancy import NoContextError, Purpose, acting_for, looking_up
from doors.walls import unwalled_models
from tests.cast import Cast

OURS = [m for m in apps.get_models() if hasattr(m, "WALL")]


def _name(model: type[models.Model]) -> str:
    return model._meta.db_table


def test_every_model_declares_its_wall() -> None:
    """A new table without a wall fails here before it holds a row."""
    assert unwalled_models() == []


@pytest.mark.parametrize("model", OURS, ids=_name)
def test_a_manager_without_a_context_raises(model: type[models.Model]) -> None:
    """It does not read zero rows: a sweep that forgot its context must not look finished."""
    with pytest.raises(NoContextError):
        model.objects.all()  # type: ignore[attr-defined]


@pytest.mark.parametrize("model", OURS, ids=_name)
def test_a_purpose_reads_only_the_tables_it_was_reviewed_for(
    cast: Cast, model: type[models.Model]
) -> None:
    """A look-up that strays to another table finds nothing there."""
    open_to = model.OPEN_TO  # type: ignore[attr-defined]
    for purpose in set(Purpose) - open_to:
        with looking_up(purpose):
            assert not model.objects.exists()  # type: ignore[attr-defined]


@pytest.mark.postgres
@pytest.mark.parametrize("model", OURS, ids=_name)
def test_postgresql_itself_raises_without_a_context(cast: Cast, model: type[models.Model]) -> None:
    """The second wall does not depend on the first: raw SQL is refused as well.

    A policy is asked of rows, and of an index before there are any: of an empty table the truth,
    none, may be read.
    """
    table = model._meta.db_table
    if table in {"doors_jurisdiction", "inspections_feedhead"}:
        return  # public by declaration: they hold no tenant's data
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE")
        cursor.execute(f"SELECT count(*) FROM {table}")
        (rows,) = cursor.fetchone()
        cursor.execute(f"SET ROLE {settings.RUNTIME_ROLE}")
    refused = pytest.raises(ProgrammingError, match="without saying on whose behalf")
    with refused if rows else suppress(ProgrammingError), transaction.atomic():
        connection.cursor().execute(f"SELECT * FROM {table}")


def test_what_one_sees_the_other_does_not(cast: Cast) -> None:
    """An owner sees its openings, the neighbour sees its own, a stranger sees none."""
    seen = {}
    for who in (cast.owner, cast.neighbour, cast.firm, cast.stranger, cast.authority):
        with acting_for(who.id, write=False):
            seen[who.name] = set(Opening.objects.values_list("id", flat=True))
    assert seen[cast.owner.name] == {cast.opening.id}
    assert seen[cast.neighbour.name] == {cast.neighbours_opening.id}
    assert seen[cast.firm.name] == {cast.opening.id}
    assert seen[cast.stranger.name] == set()
    assert seen[cast.authority.name] == set()


def test_an_organization_sees_itself_and_with_whom_it_works(cast: Cast) -> None:
    """Who else is on the service is nobody's to list."""
    seen = {}
    for who in (cast.owner, cast.neighbour, cast.firm, cast.stranger, cast.authority):
        with acting_for(who.id, write=False):
            seen[who.id] = set(Organization.objects.values_list("id", flat=True))
    assert seen[cast.owner.id] == seen[cast.firm.id] == {cast.owner.id, cast.firm.id}
    for alone in (cast.neighbour, cast.stranger, cast.authority):
        assert seen[alone.id] == {alone.id}


def test_a_context_ends_with_its_block(cast: Cast) -> None:
    """What follows a block is outside again, also within an open transaction."""
    with acting_for(cast.owner.id, write=True):
        assert LedgerEntry.objects.exists()
    with pytest.raises(NoContextError):
        LedgerEntry.objects.exists()


@pytest.mark.postgres
def test_raw_sql_sees_what_the_manager_sees(cast: Cast) -> None:
    """The two walls agree, table by table, for every one of the cast."""
    for who in (cast.owner, cast.neighbour, cast.firm, cast.stranger, cast.authority):
        with acting_for(who.id, write=False), connection.cursor() as cursor:
            for model in OURS:
                cursor.execute(f"SELECT count(*) FROM {model._meta.db_table}")
                counted = cursor.fetchone()[0]
                managed = model.objects.count()  # type: ignore[attr-defined]
                assert (who.name, _name(model), counted) == (who.name, _name(model), managed)
