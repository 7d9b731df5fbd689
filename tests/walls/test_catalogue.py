"""What the database itself says of the walls."""

from __future__ import annotations

from datetime import timedelta

import psycopg
import pytest
from django.apps import apps
from django.conf import settings
from django.db import connection, transaction
from django.db.models import ForeignKey, Model, UniqueConstraint
from django.db.utils import DatabaseError

from doors.models import Key, LedgerEntry, LedgerHead, OpeningTag, Override, Person
from doors.services.keys import issue_key
from doors.tenancy import acting_for
from doors.unwalled import UNWALLED
from doors.walls import Wall, walled_models
from inspections.models import Delivery, Notice, Owing, Visit
from tests.cast import SINCE, Cast, findings, visit

TABLES = dict(walled_models())
APPEND_ONLY = sorted(t for t, wall in TABLES.items() if wall.append_only or wall.frozen_once)
HOMES = sorted((t, c, p) for t, wall in TABLES.items() for c, p in (*wall.homes, *wall.kin))
ONCE = sorted((t, column) for t, wall in TABLES.items() for column in wall.once)
CIRCLES = sorted(table for table, wall in TABLES.items() if wall.circle)
RISING = sorted(table for table, wall in TABLES.items() if wall.rising)


def _rows(sql: str, *values: str | list[str]) -> list[tuple[object, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return cursor.fetchall()


@pytest.mark.postgres
def test_every_table_forces_row_security(cast: Cast) -> None:
    """Even the tables' owner is bound."""
    found = _rows(
        "SELECT relname, relrowsecurity, relforcerowsecurity FROM pg_class WHERE relname = ANY(%s)",
        list(TABLES),
    )
    assert sorted(found) == [(table, True, True) for table in sorted(TABLES)]


@pytest.mark.postgres
def test_every_table_has_a_policy_for_reading_adding_and_changing(cast: Cast) -> None:
    """Reading has a USING, adding a WITH CHECK, changing both."""
    found = _rows(
        "SELECT tablename, cmd, qual IS NOT NULL, with_check IS NOT NULL FROM pg_policies"
        " WHERE cmd <> 'DELETE'"
    )
    expected = [
        row
        for table in TABLES
        for row in (
            (table, "SELECT", True, False),
            (table, "INSERT", False, True),
            (table, "UPDATE", True, True),
        )
    ]
    assert sorted(found) == sorted(expected)


@pytest.mark.postgres
def test_the_runtime_role_owns_nothing_and_passes_no_wall(cast: Cast) -> None:
    """Nor is it a member of a role that does."""
    role = settings.RUNTIME_ROLE
    flags = _rows("SELECT rolsuper, rolbypassrls FROM pg_roles WHERE rolname = %s", role)
    assert flags == [(False, False)]
    assert _rows("SELECT 1 FROM pg_class WHERE pg_get_userbyid(relowner) = %s", role) == []
    assert (
        _rows(
            "SELECT 1 FROM pg_auth_members m JOIN pg_roles r ON r.oid = m.member"
            " WHERE r.rolname = %s",
            role,
        )
        == []
    )
    with pytest.raises(DatabaseError), transaction.atomic():
        _rows("TRUNCATE doors_replay")


def _homeless() -> list[str]:
    """Foreign keys between two tables under sites that no composite key carries."""
    under_sites = {m for m in apps.get_models() if _has_site(m)}
    found = []
    for model in under_sites:
        wall: Wall = model.WALL  # type: ignore[attr-defined]
        carried = {column for column, _ in wall.homes}
        keys = [f for f in model._meta.concrete_fields if isinstance(f, ForeignKey)]
        found += [
            f"{model._meta.db_table}.{key.column}"
            for key in keys
            if key.related_model in under_sites and key.column not in carried
        ]
    return found


def _has_site(model: type[Model]) -> bool:
    return any(getattr(f, "column", "") == "site_id" for f in model._meta.get_fields())


def test_every_key_between_tables_of_a_site_carries_the_site() -> None:
    """A single-column key would let one tenant's row hang under another's (integrity checks
    pass row security). Derived and organization-wide rows are listed with their reason.
    """
    elsewhere = {
        "doors_sight.custody_id",  # derived from that very row
        "doors_sight.grant_id",  # a grant may span sites
        "inspections_notice.owing_id",  # an organization's row, not a site's
    }
    assert set(_homeless()) - elsewhere == set()


def test_a_row_cannot_hang_under_another_sites_opening(cast: Cast) -> None:
    """The composite key refuses it on both databases, before any code of ours could."""

    def hang() -> None:
        with transaction.atomic():
            OpeningTag.objects.create(
                site=cast.site, opening=cast.neighbours_opening, tag="X", begins_on=SINCE
            )
            connection.check_constraints()

    with acting_for(cast.owner.id, write=True), pytest.raises(DatabaseError):
        hang()


def test_the_ledger_is_never_changed(cast: Cast) -> None:
    """Neither UPDATE nor DELETE, through the ORM or not."""
    with acting_for(cast.owner.id, write=True):
        for attempt in (
            lambda: LedgerEntry.objects.update(kind="x"),
            lambda: LedgerEntry.objects.all().delete(),
            lambda: _rows("UPDATE doors_ledgerentry SET kind = 'x'"),
        ):
            with pytest.raises(DatabaseError), transaction.atomic():
                attempt()
        assert not LedgerEntry.objects.filter(kind="x").exists()


@pytest.mark.skipif(connection.vendor != "sqlite", reason="triggers of SQLite")
def test_sqlite_has_the_triggers_after_migrating(db: None) -> None:
    """Altering a table drops its triggers silently, so they are made anew after each migration."""
    names = {name for (name,) in _rows("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    expected = {f"{t}_append_only_{v}" for t in APPEND_ONLY for v in ("update", "delete")}
    expected |= {f"{table}_rising" for table in RISING}
    expected |= {f"{table}_chained" for table, wall in TABLES.items() if wall.chained}
    expected |= {f"{table}_once_{column}" for table, column in ONCE}
    expected |= {f"{t}_one_circle_{v}" for t in CIRCLES for v in ("insert", "update")}
    expected |= {f"{t}_{c}_home_{v}" for t, c, _ in HOMES for v in ("insert", "update")}
    alone = [table for table, wall in TABLES.items() if wall.one_at_a_time]
    expected |= {f"{t}_one_at_a_time_{v}" for t in alone for v in ("insert", "update")}
    assert names == expected


@pytest.mark.postgres
def test_postgresql_has_the_composite_keys_and_triggers(cast: Cast) -> None:
    """As declared, neither more nor less."""
    keys = {
        name
        for (name,) in _rows(
            "SELECT conname FROM pg_constraint WHERE conname ~ '_home$' AND contype = 'f'"
        )
    }
    assert keys == {f"{table}_{column}_home" for table, column, _ in HOMES}
    kept = _rows(
        "SELECT c.relname, t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
        " WHERE t.tgname LIKE 'once\\_%%'"
    )
    assert sorted(kept) == [(table, f"once_{column}") for table, column in ONCE]
    for trigger, tables in (("append_only", APPEND_ONLY), ("one_circle", CIRCLES)):
        guarded = {
            name
            for (name,) in _rows(
                "SELECT c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
                " WHERE t.tgname = %s",
                trigger,
            )
        }
        assert guarded == set(tables)


def test_a_visit_is_append_only() -> None:
    """The record of an attendance is the last table that could lose this."""
    assert Visit.WALL.append_only


@pytest.mark.postgres
def test_only_what_may_change_can_be_changed(cast: Cast) -> None:
    """The runtime role has UPDATE on the declared columns alone: of a filing its state, of a
    grant its end; nobody rewrites to whom or by whom.
    """
    for table, wall in TABLES.items():
        columns = {
            name
            for (name,) in _rows(
                "SELECT column_name::text FROM information_schema.column_privileges"
                " WHERE table_name = %s AND grantee = %s AND privilege_type = 'UPDATE'",
                table,
                settings.RUNTIME_ROLE,
            )
        }
        if wall.append_only:
            assert (table, columns) == (table, set())
        else:
            assert (table, columns) == (table, set(wall.changeable))


def test_a_counter_only_grows(cast: Cast) -> None:
    """Nobody sets a ledger's head or a feed's counter back."""
    with acting_for(cast.owner.id, write=True):
        with pytest.raises(DatabaseError), transaction.atomic():
            LedgerHead.objects.filter(organization=cast.owner).update(position=0)
        assert LedgerHead.objects.get(organization=cast.owner).position > 0


def test_what_was_ended_never_begins_again(cast: Cast) -> None:
    """A key once revoked stays so, whatever code or clerk would have it otherwise."""
    with acting_for(cast.owner.id, write=True) as context:
        key, _ = issue_key(label="lost", scopes=[])
        Key.objects.filter(id=key.id).update(revoked_at=context.now)
        for other in (None, context.now + timedelta(days=1)):
            with pytest.raises(DatabaseError), transaction.atomic():
                Key.objects.filter(id=key.id).update(revoked_at=other)


def test_every_table_without_a_wall_is_listed_with_its_reason() -> None:
    """And none is listed that is not there, or that has a wall."""
    bare = {m._meta.db_table for m in apps.get_models(include_auto_created=True)} - set(TABLES)
    assert bare == set(UNWALLED)
    assert all(exempt.why for exempt in UNWALLED.values())


@pytest.mark.postgres
def test_the_runtime_role_has_of_unwalled_tables_what_was_reviewed(cast: Cast) -> None:
    """An account's address is not rewritten, and Django's own rights are not even read."""
    rows = _rows(
        "SELECT table_name::text, privilege_type::text FROM information_schema.table_privileges"
        " WHERE grantee = %s AND table_name = ANY(%s)",
        settings.RUNTIME_ROLE,
        list(UNWALLED),
    )
    assert sorted(rows) == [
        ("django_content_type", "SELECT"),
        ("django_session", "DELETE"),
        ("django_session", "INSERT"),
        ("django_session", "SELECT"),
        ("django_session", "UPDATE"),
        ("doors_account", "INSERT"),
        ("doors_account", "SELECT"),
    ]
    columns = _rows(
        "SELECT column_name::text FROM information_schema.column_privileges"
        " WHERE table_name = 'doors_account' AND grantee = %s AND privilege_type = 'UPDATE'",
        settings.RUNTIME_ROLE,
    )
    assert sorted(columns) == [("last_login",), ("password",)]


def test_a_notice_names_a_person_of_its_own_organization(cast: Cast) -> None:
    """One that could not be read would stop the mail of everybody behind it."""
    with acting_for(cast.owner.id, write=False):
        person = Person.objects.get()
    with acting_for(cast.firm.id, write=True):
        visit(cast.opening, findings(("set_in_motion_force", "33.4", "lbf")))
        owing = Owing.objects.get(stage="test_failed")

    def forge() -> None:
        with transaction.atomic():
            own = {"organization": cast.firm, "person": person, "created_at": owing.created_at}
            delivery = Delivery.objects.create(
                bundle="x", message_id="<x@notices.invalid>", not_before=owing.created_at, **own
            )
            Notice.objects.create(
                owing=owing,
                delivery=delivery,
                stage=owing.stage,
                thing=owing.thing,
                words={},
                **own,
            )
            connection.check_constraints()

    with acting_for(cast.firm.id, write=True), pytest.raises(DatabaseError):
        forge()


@pytest.mark.postgres
@pytest.mark.parametrize(
    "change",
    [
        "UPDATE doors_jurisdiction SET authority_id = app_organization()",
        "UPDATE doors_organization SET capabilities = '[]'",
        "UPDATE doors_site SET author_id = app_organization()",
        "UPDATE inspections_owing SET custodian_id = app_organization()",
        "UPDATE doors_override SET author_id = app_organization()",
        "DELETE FROM doors_custody",
    ],
)
def test_what_is_whose_is_never_rewritten(cast: Cast, change: str) -> None:
    """Whoever can read a row cannot take it over."""

    def rewrite() -> None:
        with transaction.atomic():
            _rows(change)

    for who in (cast.stranger, cast.firm, cast.owner, cast.authority):
        with acting_for(who.id, write=True), pytest.raises(DatabaseError, match="permission"):
            rewrite()


@pytest.mark.postgres
def test_nobody_writes_for_anothers_place_or_custodian(cast: Cast) -> None:
    """An override for a town that is not one's own, a debt in another owner's name."""
    with acting_for(cast.stranger.id, write=True) as context:
        forged = Override(
            author=cast.stranger,
            jurisdiction=cast.town,
            title="x",
            document="x",
            document_sha256="0" * 64,
            begins_on=SINCE,
            created_at=context.now,
        )
        with pytest.raises(DatabaseError, match="row-level"), transaction.atomic():
            forged.save(force_insert=True)
    with acting_for(cast.firm.id, write=True) as context:
        owed = Owing(
            site=cast.site,
            author=cast.firm,
            author_name="x",
            custodian=cast.neighbour,
            stage="test_failed",
            thing=cast.site.id,
            words={},
            created_at=context.now,
            not_before=context.now,
        )
        with pytest.raises(DatabaseError, match="row-level"), transaction.atomic():
            owed.save(force_insert=True)


def test_uniqueness_begins_with_whose_it_is() -> None:
    """Else a refusal would tell one tenant what another has. Each exception has its reason."""
    elsewhere = {
        "doors_doorcode": "the digest of 256 random bits",
        "doors_invitation": "the digest of 256 random bits",
        "doors_jurisdiction": "places are public",
        "doors_key": "sixteen random digits",
        "inspections_owing": "a random id of the thing",
    }
    found = set()
    for table, model in ((m._meta.db_table, m) for m in apps.get_models() if hasattr(m, "WALL")):
        first = [c.fields[0] for c in model._meta.constraints if isinstance(c, UniqueConstraint)]
        first += [f.name for f in model._meta.concrete_fields if f.unique and not f.primary_key]
        told = {
            name for name in first if name != "id" and not model._meta.get_field(name).is_relation
        }
        found |= {table} if told else set()
    assert found == set(elsewhere)


@pytest.mark.postgres
def test_the_runtime_role_becomes_nobody_else(cast: Cast) -> None:
    """Signed in as itself, it may take no other role, not even for a moment."""
    owner = connection.settings_dict["USER"]
    with psycopg.connect(
        host=connection.settings_dict["HOST"],
        port=connection.settings_dict["PORT"],
        dbname=connection.settings_dict["NAME"],
        user=settings.RUNTIME_ROLE,
    ) as session:
        for statement in (f"SET ROLE {owner}", f"SET SESSION AUTHORIZATION {owner}"):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                session.execute(statement)
            session.rollback()
