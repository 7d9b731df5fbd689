"""Digests: the same set gives the same bytes, on any Python and in any order of files."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

import rules
from rules import canonical as canonical_module
from rules.canonical import canonical, digest, fingerprint, plain
from rules.library import assemble, load
from rules.vocabulary import Activity
from tests.rules.small_library import DAY, DOOR, library

FACTS = {
    "door_type": "accordion",
    "operation": "power",
    "fire_door": True,
    "means_of_egress": True,
    "accessible_route": False,
    "installed_on": "2019-05-01",
    "occupant_load": 120,
}
PROGRAM = (
    "import json, sys; from datetime import date; import rules;"
    "f = json.loads(sys.argv[1]);"
    "print(rules.requirements(facts=f, jurisdiction='us-mn', on=date(2026, 3, 1)).digest)"
)
ROOT = Path(rules.__file__).resolve().parents[1]


def test_canonical_text_is_sorted_and_bare() -> None:
    """Keys by code point, no white space, fractions and dates as text, sets in order."""
    value = {"b": Fraction(1, 3), "a": date(2026, 3, 1), "ä": frozenset({"y", "x"})}
    assert canonical(value) == '{"a":"2026-03-01","b":"1/3","ä":["x","y"]}'


def test_what_has_no_canonical_form_is_refused() -> None:
    """A float never reaches a digest."""
    with pytest.raises(TypeError):
        plain(1.5)


def test_set_has_the_digest_of_its_content() -> None:
    """Another resolution of the same gives the same digest, another fact set another."""
    known = library()
    one = rules.requirements(facts=DOOR, jurisdiction="shire", on=DAY, library=known)
    again = rules.requirements(facts=dict(DOOR), jurisdiction="shire", on=DAY, library=library())
    assert one.digest == again.digest
    older = {**DOOR, "installed_on": "2015-01-01"}
    other = rules.requirements(facts=older, jurisdiction="shire", on=DAY, library=known)
    assert other.digest != one.digest


def test_digest_does_not_depend_on_the_order_of_files() -> None:
    """The packaged library put together backwards resolves to the same bytes."""
    packaged = load()
    backwards = assemble(
        [replace(p, carried=()) for p in reversed(list(packaged.publications.values()))],
        list(reversed(list(packaged.places.values()))),
    )
    one, other = (
        rules.requirements(facts=FACTS, jurisdiction="us-mn", on=DAY, library=known)
        for known in (packaged, backwards)
    )
    assert one.digest == other.digest


def test_digest_does_not_depend_on_the_order_of_items() -> None:
    """Items are taken in the order of their ids."""
    items = rules.requirements(facts=FACTS, jurisdiction="us", on=DAY).items
    assert digest(items) == digest(tuple(reversed(items)))


def test_every_part_of_an_item_reaches_the_digest() -> None:
    """A change of any field of a resolved requirement changes the digest."""
    (item, *_) = rules.requirements(facts=FACTS, jurisdiction="us", on=DAY).items
    before = digest([item])
    changed = [
        replace(item, layer="elsewhere"),
        replace(item, advisory=not item.advisory),
        replace(item, missing_facts=("closer",)),
        replace(item, since=date(1999, 1, 1)),
        replace(item, lineage=()),
        replace(item, requirement=replace(item.requirement, title="Another title")),
        replace(
            item,
            requirement=replace(item.requirement, required_in=frozenset({Activity.REPAIR_RETEST})),
        ),
    ]
    assert before not in {digest([other]) for other in changed}


def test_fingerprint_tells_alternatives_from_conjunctions() -> None:
    """The same parts under `any` and under `all` are different rules."""
    packaged = load().requirements
    assert len({fingerprint(r) for r in packaged.values()}) == len(packaged)


def test_kept_fingerprints_do_not_grow_without_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fingerprints kept for speed are dropped when they are many, and come out the same."""
    one, other, *_ = load().requirements.values()
    before = [fingerprint(one), fingerprint(other)]
    monkeypatch.setattr("rules.canonical._KEPT_FINGERPRINTS", 1)
    assert [fingerprint(replace(one)), fingerprint(replace(other))] == before
    assert len(canonical_module._fingerprints) == 1  # noqa: SLF001


def _pythons() -> list[str]:
    found = [sys.executable, *(shutil.which(f"python3.{minor}") or "" for minor in (11, 12, 13))]
    return [path for path in found if path and _works(path)]


def _works(path: str) -> bool:
    asked = subprocess.run([path, "-c", "import tomllib"], capture_output=True, check=False)
    return asked.returncode == 0


@pytest.mark.parametrize("seed", ["0", "1", "4242"])
@pytest.mark.parametrize("python", _pythons())
def test_digest_is_the_same_on_every_python(python: str, seed: str) -> None:
    """Every supported Python at hand, under several hash seeds: the digest of this process."""
    here = rules.requirements(facts=FACTS, jurisdiction="us-mn", on=DAY).digest
    run = subprocess.run(
        [python, "-c", PROGRAM, json.dumps(FACTS)],
        cwd=ROOT,
        env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.strip() == here
