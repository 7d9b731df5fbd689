"""Over a real network, to a receiver in a process of its own, by a worker that is killed."""

from __future__ import annotations

import base64
import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from django.conf import settings as django_settings
from pytest_django.fixtures import Settings
from standardwebhooks import Webhook as Verifier

from inspections.channels import addresses, webhooks
from inspections.channels.webhooks import NotReached, post

NAME = "hooks.example.com"
TOLD = 8  # deliveries of the run in which a worker is killed
PATIENCE = 120  # seconds; the machine may be busy


@dataclass(frozen=True)
class Sink:
    """A receiver that runs, and what it took."""

    port: int
    log: Path

    def took(self) -> list[dict[str, Any]]:
        """Every request it has read whole, in order."""
        if not self.log.exists():
            return []
        return [json.loads(line) for line in self.log.read_text().splitlines()]


def until(true: Callable[[], bool]) -> None:
    """Wait for something outside this process."""
    ends = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < ends, "it did not come"
        time.sleep(0.02)


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Sink]]:
    """Start a receiver; with a name it speaks TLS, by a certificate of that name."""
    running: list[subprocess.Popen[str]] = []

    def started(name: str = "") -> Sink:
        log = tmp_path / f"sink-{len(running)}.log"
        extra = [str(path) for path in certificate(tmp_path, name)] if name else []
        command = [sys.executable, "-m", "tests.sink", str(log), *extra]
        process = subprocess.Popen(
            command, cwd=django_settings.BASE_DIR, stdout=subprocess.PIPE, text=True
        )
        running.append(process)
        assert process.stdout is not None
        return Sink(int(process.stdout.readline()), log)

    yield started
    for process in running:
        process.kill()
        process.wait()
        assert process.stdout is not None
        process.stdout.close()


def certificate(folder: Path, name: str) -> tuple[Path, Path]:
    """A certificate of that name, signed by itself, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder(subject, subject, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    where = (folder / f"{name}.pem", folder / f"{name}.key")
    where[0].write_bytes(made.public_bytes(serialization.Encoding.PEM))
    where[1].write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return where


@pytest.fixture
def here(settings: Settings) -> None:
    """This machine may be called."""
    settings.WEBHOOKS_TO_LOOPBACK = True


def test_what_is_posted_arrives_byte_for_byte(start: Callable[..., Sink], here: None) -> None:
    """With its own headers, and nothing that would name us otherwise."""
    sink, body = start(), '{"a":"ü"}'.encode()
    assert post(f"http://127.0.0.1:{sink.port}/accept?x=1", body, {"webhook-id": "1"}) == 204
    (took,) = sink.took()
    assert (took["method"], took["path"]) == ("POST", "/accept?x=1")
    assert base64.b64decode(took["body"]) == body
    assert took["headers"]["webhook-id"] == "1"
    assert took["headers"]["content-type"] == "application/json"
    assert took["headers"]["host"] == f"127.0.0.1:{sink.port}"


@pytest.mark.parametrize("status", [200, 301, 302, 307, 308, 410, 429, 500])
def test_a_redirect_is_an_answer_like_any_other(
    start: Callable[..., Sink], here: None, status: int
) -> None:
    """It is not followed."""
    sink = start()
    assert post(f"http://127.0.0.1:{sink.port}/status/{status}", b"{}", {}) == status
    assert [took["path"] for took in sink.took()] == [f"/status/{status}"]


def test_an_answer_that_never_ends_is_cut(
    start: Callable[..., Sink], here: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A header of single bytes, or silence, is no answer; an endless body after 200 is one."""
    sink = start()
    sink.log.with_suffix(".held").touch()
    monkeypatch.setattr(webhooks, "ANSWERED_WITHIN", 0.5)
    for path in ("drip", "hold"):
        begun = time.monotonic()
        with pytest.raises(NotReached, match="no answer within"):
            post(f"http://127.0.0.1:{sink.port}/{path}", b"{}", {})
        assert time.monotonic() - begun < 10
    assert post(f"http://127.0.0.1:{sink.port}/endless", b"{}", {}) == 200
    sink.log.with_suffix(".held").unlink()


def test_nobody_listening_is_told_in_plain_words(here: None) -> None:
    """Nothing of the inside in them."""
    with pytest.raises(NotReached, match="no connection"):
        post("http://127.0.0.1:9/", b"{}", {})


@pytest.fixture
def tls(
    start: Callable[..., Sink], monkeypatch: pytest.MonkeyPatch, settings: Settings, tmp_path: Path
) -> Sink:
    """A public name that leads to a receiver with a certificate, which we trust."""
    sink = start(NAME)
    settings.WEBHOOK_CA_FILE = str(tmp_path / f"{NAME}.pem")
    monkeypatch.setattr(addresses, "HTTPS", sink.port)
    monkeypatch.setattr(addresses, "is_public", lambda text: ip_address(text).is_loopback)
    row = (None, None, None, "", ("127.0.0.1", sink.port))
    monkeypatch.setattr(addresses.socket, "getaddrinfo", lambda *_, **__: [row])
    return sink


def test_tls_goes_to_the_address_under_the_name(tls: Sink) -> None:
    """The certificate is checked for the name, and the name stands in Host."""
    assert post(f"https://{NAME}/accept", b"{}", {}) == 204
    (took,) = tls.took()
    assert took["headers"]["host"].startswith(NAME)


def test_a_certificate_of_another_name_is_refused(tls: Sink) -> None:
    """Nothing is sent."""
    with pytest.raises(NotReached, match="TLS failed"):
        post("https://other.example.com/accept", b"{}", {})
    assert tls.took() == []


def test_a_certificate_that_nobody_vouches_for_is_refused(tls: Sink, settings: Settings) -> None:
    """Nothing is sent."""
    settings.WEBHOOK_CA_FILE = ""
    with pytest.raises(NotReached, match="TLS failed"):
        post(f"https://{NAME}/accept", b"{}", {})
    assert tls.took() == []


SET_UP = """
import json, sys
import django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from tests.cast import assemble
from doors.tenancy import acting_for
from inspections.services.webhooks import make_webhook, try_webhook
cast = assemble()
with acting_for(cast.owner.id, write=True):
    webhook, secret = make_webhook(url=sys.argv[1], events=["visit.recorded"])
    ids = [str(try_webhook(webhook_id=webhook.id).id) for _ in range(int(sys.argv[2]))]
print(json.dumps({"secret": secret, "ids": ids}))
"""
LAPSE = """
import django
django.setup()
from datetime import timedelta
from doors.tenancy import Purpose, looking_up
from inspections.models import WebhookDelivery
with looking_up(Purpose.SWEEP, write=True) as context:
    past = context.now - timedelta(seconds=1)
    WebhookDelivery.objects.exclude(leased_until=None).update(leased_until=past)
"""
SAY = """
import django, json
django.setup()
from doors.tenancy import Purpose, looking_up
from inspections.models import WebhookAttempt, WebhookDelivery
with looking_up(Purpose.SWEEP):
    states = {str(d.id): d.state for d in WebhookDelivery.objects.all()}
    outcomes = [(str(a.delivery_id), a.outcome) for a in WebhookAttempt.objects.all()]
print(json.dumps({"states": states, "outcomes": outcomes}))
"""


class Service:
    """The service on a database of its own, each deed of it in a process."""

    def __init__(self, folder: Path) -> None:
        """Not yet set up."""
        self.env = {
            **os.environ,
            "DATABASE_URL": f"sqlite:///{folder / 'service.sqlite3'}",
            "DJANGO_SETTINGS_MODULE": "config.settings.dev",
            "VAR_DIR": str(folder),
            "WEBHOOKS_TO_LOOPBACK": "True",
        }

    def run(self, script: str, *arguments: str) -> str:
        """Run a script within it and return what it said."""
        command = [sys.executable, "-c", script, *arguments]
        done = subprocess.run(
            command, env=self.env, cwd=django_settings.BASE_DIR, check=True, capture_output=True
        )
        return done.stdout.decode()

    def worker(self) -> subprocess.Popen[bytes]:
        """Start the real worker on what waits now."""
        command = [sys.executable, "manage.py", "work", "--once"]
        return subprocess.Popen(
            command, env=self.env, cwd=django_settings.BASE_DIR, stderr=subprocess.DEVNULL
        )


def test_a_worker_killed_after_the_receiver_took_it_loses_and_doubles_nothing(
    start: Callable[..., Sink], tmp_path: Path
) -> None:
    """Kill -9 between the receiver's fsync and our commit: the set of ids that arrived is the set
    that was owed; the one try cut short is `unknown`, its repetition bears the same id and the
    same bytes, and every arrival is verified by an independent library.
    """
    sink, service = start(), Service(tmp_path)
    held = sink.log.with_suffix(".held")
    held.touch()
    url = f"http://127.0.0.1:{sink.port}/hold"
    owed = json.loads(service.run(SET_UP, url, str(TOLD)))
    worker = service.worker()
    until(lambda: len(sink.took()) == 1)
    worker.send_signal(signal.SIGKILL)
    worker.wait()
    held.unlink()
    service.run(LAPSE)
    assert service.worker().wait(timeout=PATIENCE) == 0
    took = sink.took()
    arrived = Counter(each["headers"]["webhook-id"] for each in took)
    assert set(arrived) == set(owed["ids"])
    (twice,) = (id_ for id_, times in arrived.items() if times > 1)
    assert arrived.total() == TOLD + 1
    assert len({each["body"] for each in took if each["headers"]["webhook-id"] == twice}) == 1
    said = json.loads(service.run(SAY))
    assert set(said["states"].values()) == {"done"}
    assert [id_ for id_, outcome in said["outcomes"] if outcome == "unknown"] == [twice]
    verifier = Verifier(owed["secret"])
    for each in took:
        verifier.verify(base64.b64decode(each["body"]), each["headers"])
