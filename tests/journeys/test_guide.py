"""What the guide shows is what happens: every command of it is run, in order, in one shell."""

from __future__ import annotations

import html
import os
import re
import subprocess
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import Settings

from doors.models import EVERY_SCOPE, Organization
from doors.services.keys import issue_key
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.management.runner import run_until_idle, scans
from inspections.management.stage import Stage

# The state of the shell goes from one block to the next by a file; a failure ends all of it.
_SHELL = """set -eu -o pipefail
[ -e state.sh ] && . ./state.sh
{block}
declare -p $(compgen -v | grep -E '^[A-Z]+$' | grep -vE '^(BASHOPTS|EUID|UID|PPID|SHELLOPTS)$') \
  > state.sh 2> /dev/null || true
declare -f >> state.sh
"""


def blocks() -> list[str]:
    """The commands of the page, block by block, as a reader pastes them."""
    page = Client().get(reverse("docs-guide")).content.decode()
    found = re.findall(r'<pre><code class="sh">(.*?)</code></pre>', page, re.DOTALL)
    assert page.count("<pre>") == len(found)
    return [html.unescape(block) for block in found]


def run(block: str, folder: Path, env: dict[str, str]) -> str:
    """Run one block as the shell would after those before it; what it said."""
    script = folder / "block.sh"
    script.write_text(_SHELL.replace("{block}", block))
    done = subprocess.run(
        ["bash", script.name], cwd=folder, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{block}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.mark.django_db(transaction=True)
def test_every_command_of_the_guide_does_what_it_says(
    stage: Stage, tmp_path: Path, settings: Settings
) -> None:
    """From the key to the end of the sandbox; between two blocks a worker does its work."""
    settings.WEBHOOKS_TO_LOOPBACK = False
    settings.OAUTH_TOKENS = True
    with looking_up(Purpose.SET_UP):
        firm = Organization.objects.get(name__startswith="Quillfeather")
    with acting_for(firm.id, write=True):
        _, key = issue_key(label="guide", scopes=EVERY_SCOPE)
    env = {"PATH": os.environ["PATH"], "ADDRESS": stage.address, "KEY": key}
    said = []
    for block in blocks():
        said.append(run(block, tmp_path, env))
        run_until_idle(scans())
    whole = "".join(said)
    for expected in (
        firm.name,
        "Caution: ",
        "set_in_motion_force ['at most 30 lbf'",
        "Run: ['closes-on-signal',",
        "304\n",
        "closing_speed 11.52 in/s give or take 0",
        "Idempotency-Replayed: true",
        "422\n",
        "{'Not tested: the gauge was broken'}\nCounter({'not_recorded': ",
        "A door in a means of egress may not be secured shut.\nTrue\n",
        "repaired ['sequence:obstruction', 'sequence:closes-on-signal',",
        "repaired ['sequence:closes-on-signal', 'sequence:egress-in-fire-mode']\n",
        "does_not_conform\n",
        "webhook https://hooks.example.com/doors",
        "email ottoline.fennimore@lantern-hall.example",
        "visit.recorded verified",
        "deficiency.opened verified",
        "'overdue'",
        "filed\n",
        "Wanting:",
        "with a token: 200\n",
        "unsupported_grant_type\n",
        "401\n",
    ):
        assert expected.lower() in whole.lower(), f"{expected}\n{whole}"
    told = dict(zip(blocks(), said, strict=True))
    (batch,) = (lines.splitlines() for block, lines in told.items() if "visits/batch" in block)
    assert (batch[0], *batch[2:]) == ("1", "2", "True")
    (photo,) = (lines for block, lines in told.items() if "photo.png" in block)
    assert re.fullmatch("[0-9a-f]{64}\n", photo)
    (old, new) = next(lines.split() for block, lines in told.items() if "supersedes" in block)
    assert {len(old), len(new)} == {36}
    assert old != new


def test_the_page_comes_from_our_own_files() -> None:
    """Nothing on it is fetched from elsewhere, and it is linked from the other pages."""
    page = Client().get("/docs/guide").content.decode()
    assert not re.findall(r'(?:src|href)="https?://', page)
    assert "/docs/guide" in Client().get("/docs/problems").content.decode()
