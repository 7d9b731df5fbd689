"""What production refuses about its database: whatever would let somebody past the walls."""

from __future__ import annotations

from django.db import connection

from doors.unwalled import UNWALLED
from doors.walls.functions import DEFINERS

# What is wrong -> a query for the names of which it is so. `held` is every role that the session
# is, took, or could take.
QUESTIONS = {
    "the role is or may become one that passes every wall": """
        WITH RECURSIVE held AS (
          SELECT oid FROM pg_roles WHERE rolname IN (session_user, current_user)
          UNION
          SELECT m.roleid FROM pg_auth_members m JOIN held ON m.member = held.oid
        )
        SELECT rolname FROM pg_roles JOIN held USING (oid) WHERE rolsuper OR rolbypassrls
    """,
    "the role is or may become the owner of tables": """
        WITH RECURSIVE held AS (
          SELECT oid FROM pg_roles WHERE rolname IN (session_user, current_user)
          UNION
          SELECT m.roleid FROM pg_auth_members m JOIN held ON m.member = held.oid
        )
        SELECT DISTINCT r.rolname FROM pg_class c JOIN held ON c.relowner = held.oid
        JOIN pg_roles r ON r.oid = held.oid WHERE c.relnamespace = 'public'::regnamespace
    """,
    "the role may make tables and functions of its own in the schema": """
        SELECT current_user WHERE has_schema_privilege(current_user, 'public', 'CREATE')
    """,
    "a table does not force row security": """
        SELECT relname FROM pg_class
        WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')
        AND NOT (relrowsecurity AND relforcerowsecurity) AND relname <> ALL(%(unwalled)s)
    """,
    "a view shows what its owner may see": """
        SELECT relname FROM pg_class
        WHERE relnamespace = 'public'::regnamespace AND (relkind = 'm' OR relkind = 'v'
        AND NOT coalesce(reloptions && '{security_invoker=true,security_invoker=on}', false))
    """,
    "a function runs with its owner's rights that nobody has reviewed": """
        SELECT proname FROM pg_proc
        WHERE prosecdef AND pronamespace = 'public'::regnamespace AND NOT (proname = ANY(%(known)s)
        AND 'search_path=pg_catalog, public, pg_temp' = ANY(coalesce(proconfig, '{}')))
    """,
}


def unsafe_database() -> list[str]:
    """Every reason not to serve from the database in force, each with its names; raises
    DatabaseError where it does not answer.
    """
    if connection.vendor != "postgresql":
        return ["the database has no row security"]
    known = {"unwalled": [*UNWALLED, "django_migrations"], "known": list(DEFINERS)}
    found = []
    with connection.cursor() as cursor:
        for wrong, query in QUESTIONS.items():
            cursor.execute(query, known)
            names = sorted(str(name) for (name,) in cursor.fetchall())
            if names:
                found.append(f"{wrong}: {', '.join(names)}")
    return found
