"""Where the tests find a PostgreSQL and a Redis, and how they start private ones.

A service is taken where it answers: at DATABASE_URL or REDIS_URL, else on its standard local
port. Where REQUIRE_SERVICES=1 says that both must be there, one that does not answer is started
from the system's own binaries, on a free port, with its data in a temporary folder, and what was
started is stopped again. Nothing else is ever stopped, flushed or dropped.
"""

import contextlib
import os
import pwd
import secrets
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import redis

STANDARD_POSTGRES = "postgres://postgres@127.0.0.1:5432/postgres"
STANDARD_REDIS = "redis://127.0.0.1:6379/0"
ANSWER_WITHIN = 2  # seconds
START_WITHIN = 30  # seconds


class ServiceError(Exception):
    """A required service neither answers nor can be started; the message says why."""


def postgres_url(env: Mapping[str, str] = os.environ) -> str:
    """Return where a PostgreSQL is to be looked for: DATABASE_URL unless it names another kind."""
    given = env.get("DATABASE_URL", "")
    return given if given.startswith("postgres") else STANDARD_POSTGRES


def redis_url(env: Mapping[str, str] = os.environ) -> str:
    """Return where a Redis is to be looked for."""
    return env.get("REDIS_URL") or STANDARD_REDIS


def place(url: str) -> str:
    """Return host and port of `url`: what may be printed, without user and password."""
    parts = urlsplit(url)
    return f"{parts.hostname}:{parts.port}" if parts.port else str(parts.hostname)


def postgres_answers(url: str) -> bool:
    """Tell whether a connection to `url` succeeds and answers a query."""
    try:
        with psycopg.connect(url, connect_timeout=ANSWER_WITHIN) as connection:
            connection.execute("SELECT 1")
    except psycopg.Error:
        return False
    return True


def redis_answers(url: str) -> bool:
    """Tell whether the server at `url` answers a PING."""
    try:
        with redis.Redis.from_url(
            url, socket_timeout=ANSWER_WITHIN, socket_connect_timeout=ANSWER_WITHIN
        ) as client:
            return bool(client.ping())
    except redis.RedisError:
        return False


def seed() -> int:
    """Return where this run's random histories begin: SEED, else chosen once and inherited."""
    return int(os.environ.setdefault("SEED", str(secrets.randbits(40))))


def required(env: Mapping[str, str] = os.environ) -> bool:
    """Tell whether both services must be there (REQUIRE_SERVICES=1)."""
    return env.get("REQUIRE_SERVICES") == "1"


@contextlib.contextmanager
def postgres(env: Mapping[str, str] = os.environ) -> Iterator[str | None]:
    """Yield the URL of a PostgreSQL; None where none answers and none is required."""
    url = postgres_url(env)
    if postgres_answers(url):
        yield url
    elif required(env):
        with private_postgres() as started:
            yield started
    else:
        yield None


@contextlib.contextmanager
def redis_server(env: Mapping[str, str] = os.environ) -> Iterator[str | None]:
    """Yield the URL of a Redis; None where none answers and none is required."""
    url = redis_url(env)
    if redis_answers(url):
        yield url
    elif required(env):
        with private_redis() as started:
            yield started
    else:
        yield None


@contextlib.contextmanager
def private_postgres() -> Iterator[str]:
    """Run a PostgreSQL of our own; its superuser is `postgres`, without a password.

    It keeps nothing safe against a power cut (fsync off): for tests only.
    """
    initdb, server = _postgres_binary("initdb"), _postgres_binary("postgres")
    account = _unprivileged_account()
    with _data_folder(account) as folder:
        _quietly([initdb, "-D", str(folder), "-U", "postgres", "-A", "trust", "-E", "UTF8",
                  "--locale=C.UTF-8", "-N"], account, folder)  # fmt: skip
        port = free_port()
        url = f"postgres://postgres@127.0.0.1:{port}/postgres"
        command = [server, "-D", str(folder), "-p", str(port), "-k", "", "-h", "127.0.0.1"]
        settings = ["fsync=off", "full_page_writes=off", "synchronous_commit=off"]
        for setting in settings:
            command += ["-c", setting]
        with _running(command, account, folder, answers=lambda: postgres_answers(url)):
            yield url


@contextlib.contextmanager
def private_redis() -> Iterator[str]:
    """Run a Redis of our own that writes nothing to disk."""
    server = shutil.which("redis-server")
    if server is None:
        raise ServiceError("no redis-server on PATH (Debian: apt install redis-server)")
    account = _unprivileged_account()
    with _data_folder(account) as folder:
        port = free_port()
        url = f"redis://127.0.0.1:{port}/0"
        command = [server, "--port", str(port), "--bind", "127.0.0.1", "--save", "",
                   "--appendonly", "no", "--dir", str(folder)]  # fmt: skip
        with _running(command, account, folder, answers=lambda: redis_answers(url)):
            yield url


@contextlib.contextmanager
def pooler(postgres: str, users: Sequence[str]) -> Iterator[int | None]:
    """Yield the port of a PgBouncer of our own before the server of `postgres`, in transaction
    mode with a pool of one; None where the program is not there and not required.
    """
    program = shutil.which("pgbouncer") or shutil.which("pgbouncer", path="/usr/sbin")
    if program is None:
        if required():
            raise ServiceError("no pgbouncer here (Debian: apt install pgbouncer)")
        yield None
        return
    account, server = _unprivileged_account(), urlsplit(postgres)
    with _data_folder(account) as folder:
        port = free_port()
        (folder / "users").write_text("".join(f'"{user}" ""\n' for user in users))
        settings = {
            "listen_addr": "127.0.0.1",
            "listen_port": port,
            "unix_socket_dir": "",
            "auth_type": "trust",
            "auth_file": folder / "users",
            "pool_mode": "transaction",
            "default_pool_size": 1,
            "max_client_conn": 200,
        }
        lines = [f"{name} = {value}" for name, value in settings.items()]
        databases = ["[databases]", f"* = host={server.hostname} port={server.port or 5432}"]
        (folder / "ini").write_text("\n".join([*databases, "[pgbouncer]", *lines, ""]))
        through = f"postgres://{users[0]}@127.0.0.1:{port}{server.path}"
        command = [program, str(folder / "ini")]
        with _running(
            command,
            account,
            folder,
            answers=lambda: postgres_answers(through),
            stop=signal.SIGTERM,
        ):
            yield port


def _postgres_binary(name: str) -> str:
    """Return the newest installed binary; Debian keeps them off PATH, one folder a version."""
    installed = sorted(
        Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: int(path.parts[-3])
    )
    found = str(installed[-1]) if installed else shutil.which(name)
    if found is None:
        raise ServiceError(f"no PostgreSQL {name} here (Debian: apt install postgresql)")
    return found


def _unprivileged_account() -> pwd.struct_passwd | None:
    """Return the account to run servers as: None for our own, since PostgreSQL refuses root."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            return pwd.getpwnam(name)
    raise ServiceError("run as root, and no account `postgres` or `nobody` to start servers as")


@contextlib.contextmanager
def _data_folder(account: pwd.struct_passwd | None) -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="doors-service-") as name:
        folder = Path(name) / "data"
        folder.mkdir(mode=0o700)
        if account is not None:
            Path(name).chmod(0o711)
            os.chown(folder, account.pw_uid, account.pw_gid)
        yield folder


def free_port() -> int:
    """Return a port that nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _start(
    command: Sequence[str], account: pwd.struct_passwd | None, folder: Path
) -> subprocess.Popen[str]:
    """Start `command` in `folder` as `account`; what it says goes to the log beside `folder`."""
    uid, gid = (account.pw_uid, account.pw_gid) if account else (None, None)
    with (folder.parent / "log").open("a") as log:
        return subprocess.Popen(
            command,
            cwd=folder,
            env={"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8"},
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            text=True,
            user=uid,
            group=gid,
            extra_groups=[] if account else None,
        )


def _quietly(command: Sequence[str], account: pwd.struct_passwd | None, folder: Path) -> None:
    if _start(command, account, folder).wait(START_WITHIN * 2) != 0:
        raise ServiceError(f"{command[0]} failed: {_last_words(folder)}")


def _last_words(folder: Path) -> str:
    return (folder.parent / "log").read_text(errors="replace")[-2000:].strip()


@contextlib.contextmanager
def _running(
    command: Sequence[str],
    account: pwd.struct_passwd | None,
    folder: Path,
    *,
    answers: Callable[[], bool],
    stop: signal.Signals = signal.SIGINT,
) -> Iterator[None]:
    """Keep `command` running for the block, from its first answer; stop it, and only it, after."""
    process = _start(command, account, folder)
    try:
        give_up = time.monotonic() + START_WITHIN
        while not answers():
            if process.poll() is not None or time.monotonic() > give_up:
                raise ServiceError(f"{command[0]} did not start: {_last_words(folder)}")
            time.sleep(0.1)
        yield
    finally:
        process.send_signal(stop)  # each stops at once on its own, without waiting for clients
        try:
            process.wait(START_WITHIN)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
