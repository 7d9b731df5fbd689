"""The whole test suite, as `make test` runs it: `python -m tests [pytest's arguments]`.

Two runs of pytest. The first has SQLite under test and needs nothing running. The second has
PostgreSQL under test and holds what touches a database; it runs where a PostgreSQL answers, or
where REQUIRE_SERVICES=1 has one started. Tests marked `redis` run in either where a Redis answers.
The last lines say plainly which part ran; the exit code is 0 only if every part that ran passed.
"""

import contextlib
import os
import secrets
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest
from psycopg import sql

from tests import services

# What has a database under test; the rest would only be run a second time for nothing.
ON_POSTGRES = ["config", "doors", "inspections", "walls", "journeys"]
WORKERS = ["-n", "2"]


def main(arguments: list[str]) -> int:
    """Run both parts and return the exit code of the whole."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that what was started is stopped
    with contextlib.ExitStack() as stack:
        try:
            postgres = stack.enter_context(services.postgres())
            redis = stack.enter_context(services.redis_server())
        except services.ServiceError as error:
            print(f"A service is required (REQUIRE_SERVICES=1): {error}", file=sys.stderr)
            return 1
        env = dict(os.environ)
        if redis is not None:
            env["REDIS_URL"] = redis
        lines, passed = _run_parts(arguments, env, postgres)
        lines.append(_redis_line(redis))
    print("\n" + "\n".join(lines), flush=True)
    return 0 if passed else 1


def _run_parts(
    arguments: list[str], env: dict[str, str], postgres: str | None
) -> tuple[list[str], bool]:
    """Run SQLite, then PostgreSQL where `postgres` says where; return the lines and the outcome."""
    without_database = {key: value for key, value in env.items() if key != "DATABASE_URL"}
    line, passed = _part("SQLite", "in memory", ["tests", *arguments], without_database)
    if postgres is None:
        where = services.place(services.postgres_url(env))
        return [line, f"PostgreSQL part: NOT run (nothing answers on {where})"], passed
    folders = [f"tests/{name}" for name in ON_POSTGRES if Path("tests", name).is_dir()]
    with own_database(postgres) as url:
        more, also_passed = _part(
            "PostgreSQL",
            services.place(postgres),
            [*folders, *arguments],
            env | {"DATABASE_URL": url},
        )
    return [line, more], passed and also_passed


def _part(name: str, where: str, arguments: list[str], env: dict[str, str]) -> tuple[str, bool]:
    print(f"==> tests on {name} ({where})", flush=True)
    began = time.monotonic()
    code = subprocess.run(
        [sys.executable, "-m", "pytest", *WORKERS, *arguments], env=env, check=False
    ).returncode
    chosen = {"-m", "-k"} & set(arguments) and code == pytest.ExitCode.NO_TESTS_COLLECTED
    code = 0 if chosen else code  # whoever chose may have chosen what the other part holds
    outcome = "passed" if code == 0 else f"FAILED (pytest's exit code {code})"
    took = f"{time.monotonic() - began:.0f} s"
    return f"{name} part: {outcome} in {took} ({where})", code == 0


@contextlib.contextmanager
def own_database(url: str) -> Iterator[str]:
    """Yield `url` with a database name of this run alone; drop what the run leaves of it.

    Two runs on one server never meet: Django and xdist make `test_<name>` and `test_<name>_gw0`.
    """
    name = f"doors_{os.getpid()}_{secrets.token_hex(3)}"
    try:
        yield urlunsplit(urlsplit(url)._replace(path=f"/{name}"))
    finally:
        _drop_databases(url, f"test_{name}")


def _drop_databases(url: str, prefix: str) -> None:
    with psycopg.connect(url, autocommit=True) as connection:
        left = connection.execute(
            "SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [prefix]
        ).fetchall()
        for (database,) in left:
            connection.execute(
                sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(database))
            )


def _redis_line(redis: str | None) -> str:
    if redis is None:
        return f"Redis part: NOT run (nothing answers on {services.place(services.redis_url())})"
    return f"Redis part: in both runs, against {services.place(redis)}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
