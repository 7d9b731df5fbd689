"""Spanish is complete: every text of a door's page, whichever door, and what is compiled."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import read_mo
from babel.messages.pofile import read_po
from django.conf import settings

import rules
from rules.vocabulary import DoorType, Operation

APP = Path(settings.BASE_DIR) / "inspections"
LOCALE = APP / "locale" / "es" / "LC_MESSAGES"
_IN_TEMPLATES = re.compile(r'{% translate "([^"]+)" %}')
_IN_CODE = re.compile(r'gettext(?:_noop)?\(\s*"([^"]+)"')


def texts() -> Iterator[str]:
    """All that is said by templates and code."""
    for template in (APP / "templates" / "pages").glob("door*.html"):
        yield from _IN_TEMPLATES.findall(template.read_text("utf-8"))
    for module in (APP / "web").glob("*.py"):
        yield from _IN_CODE.findall(module.read_text("utf-8"))


def words_of_rules() -> Iterator[str]:
    """All that the operation test of any door in the United States asks, and its cautions."""
    for door in DoorType:
        for operation in Operation:
            facts = {"door_type": door, "operation": operation, "fire_door": True}
            asked = rules.requirements(facts=facts, jurisdiction="us", on=date(2026, 11, 1))
            plan = rules.visit_plan(asked, activity="operation_test")
            yield from (caution["words"] for caution in plan["cautions"])
            for group in plan["look_at"]:
                for check in group["checks"]:
                    yield from check["asks"]
            for sequence in plan["sequences"]:
                yield from (*sequence["do"], *sequence["cautions"])
                yield from (step["expect"] for step in sequence["steps"])


def texts_of(catalogue: Catalog) -> dict[str, str]:
    """Each text with its translation; of one with a plural the first form."""
    return {_first(message.id): _first(message.string) for message in catalogue if message.id}


def _first(said: object) -> str:
    return str(said[0]) if isinstance(said, list | tuple) else str(said)


def test_every_text_is_in_spanish() -> None:
    """None is missing, and none is left in English."""
    with (LOCALE / "django.po").open("rb") as file:
        known = texts_of(read_po(file, locale="es"))
    said = {*texts(), *words_of_rules()}
    assert len(said) > 100
    assert {text for text in said if not known.get(text)} == set()
    assert {text for text in said if known[text] == text} <= {"No"}


def test_what_is_compiled_is_what_is_written() -> None:
    """`make messages` was run after the last change."""
    with (LOCALE / "django.po").open("rb") as file:
        written = texts_of(read_po(file, locale="es"))
    with (LOCALE / "django.mo").open("rb") as file:
        compiled = texts_of(read_mo(file))
    assert compiled == written
