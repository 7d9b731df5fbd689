"""Every shipped place, with one mistake of every class put into it: lint names each by its key."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

import pytest

from rules.errors import DataError
from rules.library import read_toml
from rules.lint import parse_layer

PLACES = sorted(
    entry.name
    for entry in (files("rules") / "data" / "jurisdictions").iterdir()
    if entry.name.endswith(".toml")
)
Document = dict[str, Any]
STATEMENTS = ("adopt", "add", "replace", "tighten", "relax", "withdraw")
NO_PLACE, NO_NAME = "atlantis", "nowhere-1066/nothing"


class Spoilt(NamedTuple):
    """A document with one mistake, where it stands and its code."""

    document: Document
    pointer: str
    code: str


@cache
def _text(name: str) -> str:
    return (files("rules") / "data" / "jurisdictions" / name).read_text("utf-8")


def document_of(name: str) -> Document:
    """A shipped place, to be spoilt."""
    return read_toml(_text(name), name)


def statements(document: Document, *among: str) -> Iterator[tuple[str, str, Document]]:
    """Every statement of these kinds: its pointer, its kind, and itself."""
    for kind in among or STATEMENTS:
        for number, block in enumerate(document.get(kind, [])):
            yield f"/{kind}/{number}", kind, block


Mutation = Callable[[Document], Iterator[tuple[str, str]]]


def unknown_key(document: Document) -> Iterator[tuple[str, str]]:
    """A key that nobody reads, in every table there is."""
    document["tigten"] = []
    yield "/tigten", "unknown_key"
    for at, table in list(tables(document, "")):
        table["hihg"] = "1 lbf"
        yield f"{at}/hihg", "unknown_fact" if is_predicate(at) else "unknown_key"


def tables(part: object, at: str) -> Iterator[tuple[str, Document]]:
    """Every table under the root, with its pointer."""
    named = part.items() if isinstance(part, dict) else ()
    for key, inner in enumerate(part) if isinstance(part, list) else named:
        if isinstance(inner, dict):
            yield f"{at}/{key}", inner
        yield from tables(inner, f"{at}/{key}")


def is_predicate(at: str) -> bool:
    """Whether a table at this place is one of facts, not of bounds on one."""
    parts = at.split("/")
    starts = [n for n, key in enumerate(parts) if key in {"applies", "where", "permitted_when"}]
    inner = parts[starts[0] + 1 :] if starts else ["x"]
    return all(key in {"any", "not"} or key.isdigit() for key in inner)


def missing_citation(document: Document) -> Iterator[tuple[str, str]]:
    """No statement without its source."""
    for at, _, block in statements(document):
        del block["citation"]
        yield f"{at}/citation", "missing"


def missing_standing(document: Document) -> Iterator[tuple[str, str]]:
    """No statement without saying how it is known."""
    for at, _, block in statements(document):
        del block["standing"]
        yield f"{at}/standing", "missing"


def missing_day(document: Document) -> Iterator[tuple[str, str]]:
    """No statement without its first day."""
    for at, _, block in statements(document):
        del block["from"]
        yield f"{at}/from", "missing"


def ends_before_it_begins(document: Document) -> Iterator[tuple[str, str]]:
    """The last day lies before the first."""
    for at, _, block in statements(document):
        block["until"] = date(1866, 1, 1)
        yield f"{at}/until", "out_of_order"


def no_day(document: Document) -> Iterator[tuple[str, str]]:
    """A day that no calendar has."""
    for at, _, block in statements(document):
        block["from"] = "2026-02-30"
        yield f"{at}/from", "not_a_date"


def week_date(document: Document) -> Iterator[tuple[str, str]]:
    """A day is written YYYY-MM-DD and in no other way."""
    for at, _, block in statements(document):
        block["from"] = "2026-W10-1"
        yield f"{at}/from", "not_a_date"


def wrong_type(document: Document) -> Iterator[tuple[str, str]]:
    """A list where a text belongs, a text where a table belongs."""
    for at, _, block in statements(document):
        block["standing"], block["citation"] = ["verified"], "Act"
        yield f"{at}/standing", "wrong_type"
        yield f"{at}/citation", "wrong_type"


def unknown_word(document: Document) -> Iterator[tuple[str, str]]:
    """A word that is in no list."""
    for at, kind, block in statements(document):
        block["standing"] = "certain"
        yield f"{at}/standing", "unknown_word"
        if kind in {"add", "replace"}:
            block["basis"], block["protects"] = "habit", "money"
            yield f"{at}/basis", "unknown_word"
            yield f"{at}/protects", "unknown_word"


def unknown_target(document: Document) -> Iterator[tuple[str, str]]:
    """A rule or an edition that nobody wrote."""
    for at, kind, block in statements(document, "adopt", "replace", "tighten", "relax", "withdraw"):
        keys = ("publication", "requirement") if kind == "adopt" else ("target",)
        (key,) = (key for key in keys if key in block)
        block[key] = NO_NAME.replace("/", "-") if key == "publication" else NO_NAME
        yield f"{at}/{key}", "unknown_target"


def misspelt_fact(document: Document) -> Iterator[tuple[str, str]]:
    """A fact of which nothing is known."""
    for at, kind, block in statements(document):
        if "publication" not in block:
            key = "applies" if kind in {"add", "replace"} else "where"
            block.setdefault(key, {})["fire_dor"] = True
            yield f"{at}/{key}/fire_dor", "unknown_fact"


def fact_out_of_vocabulary(document: Document) -> Iterator[tuple[str, str]]:
    """A door type that there is not, a flag that is a number."""
    for at, _, block in statements(document, "add", "replace"):
        block.setdefault("applies", {}).update(door_type="trapdoor", fire_door=1)
        yield f"{at}/applies/door_type", "wrong_value"
        yield f"{at}/applies/fire_door", "wrong_value"


def bounds_with_nothing_between(document: Document) -> Iterator[tuple[str, str]]:
    """At least more than at most."""
    for at, _, block in statements(document, "add", "replace"):
        block.setdefault("applies", {})["occupant_load"] = {"at_least": 60, "at_most": 50}
        yield f"{at}/applies/occupant_load/at_least", "out_of_order"


def wrong_dimension(document: Document) -> Iterator[tuple[str, str]]:
    """A number in a unit that its quantity does not have."""
    for at, _, block in statements(document, "add", "replace"):
        for key in ("low", "high"):
            if key in block.get("limit", {}):
                block["limit"][key] = "5 Ah" if "battery" not in str(block["limit"]) else "5 lbf"
                yield f"{at}/limit/{key}", "wrong_dimension"
    for at, _, block in statements(document, "tighten", "relax"):
        for key in ("low", "high"):
            if key in block:
                block[key] = "5 Ah"
                yield f"{at}/{key}", "cannot_move"


def unknown_unit(document: Document) -> Iterator[tuple[str, str]]:
    """A unit that nobody knows, or none."""
    for at, _, block in statements(document, "add", "replace"):
        for key in ("low", "high"):
            if key in block.get("limit", {}):
                block["limit"][key] = "5 furlong"
                yield f"{at}/limit/{key}", "unknown_unit"


def negative_limit(document: Document) -> Iterator[tuple[str, str]]:
    """No limit of a door is below nought."""
    for at, _, block in statements(document, "add", "replace"):
        for key in ("low", "high"):
            if key in block.get("limit", {}):
                block["limit"][key] = f"-{block['limit'][key]}"
                yield f"{at}/limit/{key}", "out_of_range"
    for at, _, block in statements(document, "tighten", "relax"):
        for key in ("low", "high"):
            if key in block:
                block[key] = f"-{block[key]}"
                yield f"{at}/{key}", "out_of_range"


def no_duration(document: Document) -> Iterator[tuple[str, str]]:
    """A year is P1Y."""
    for at, kind, block in statements(document, "add", "replace", "tighten", "relax"):
        inner = block.get("interval", {}) if kind in {"add", "replace"} else block
        if "every" in inner:
            inner["every"] = "1 year"
            where = f"{at}/interval" if inner is not block else at
            yield f"{where}/every", "not_a_duration"


def no_calendar_period(document: Document) -> Iterator[tuple[str, str]]:
    """Five months are no period of the calendar."""
    for at, _, block in statements(document, "add", "replace"):
        interval = block.get("interval", {})
        if "every" in interval:
            for key in ("early", "late", "least", "greatest"):
                interval.pop(key, None)
            interval.update(meaning="calendar_period", every="P5M")
            interval.pop("after", None)
            yield f"{at}/interval/every", "not_a_calendar_period"


def overlap(document: Document) -> Iterator[tuple[str, str]]:
    """Every statement written twice."""
    for kind in STATEMENTS:
        blocks = document.get(kind, [])
        times = len(blocks)
        blocks.extend(copy.deepcopy(blocks))
        for number in range(times, 2 * times):
            if kind == "add":
                yield f"/add/{number}/from", "overlap"
            else:
                yield f"/{kind}/{number}/from", "overlap"


def unknown_parent(document: Document) -> Iterator[tuple[str, str]]:
    """A place above that there is not."""
    document["jurisdiction"]["parent"] = NO_PLACE
    yield "/jurisdiction/parent", "unknown_place"


def own_parent(document: Document) -> Iterator[tuple[str, str]]:
    """A place above itself."""
    document["jurisdiction"]["parent"] = document["jurisdiction"]["code"]
    yield "/jurisdiction/parent", "cycle"


def no_name(document: Document) -> Iterator[tuple[str, str]]:
    """A place without a name or a code."""
    del document["jurisdiction"]["name"]
    document["jurisdiction"]["code"] = "Not A Code"
    yield "/jurisdiction/name", "missing"
    yield "/jurisdiction/code", "bad_identifier"


def statement_of(change: str, **keys: object) -> Document:
    """A cited statement."""
    cited = {"publication": "Act", "edition": "1", "clause": "1"}
    day = {"from": date(2030, 1, 1), "standing": "verified"}
    return {**day, "citation": cited, **keys}


def relaxes_what_is_not_there(document: Document) -> Iterator[tuple[str, str]]:
    """A rule of a publication that no place on the way down has."""
    number = len(document.setdefault("relax", []))
    document["relax"].append(
        statement_of("relax", target="accreditor-2014/frequency/weekly", every="P2W")
    )
    yield f"/relax/{number}/target", "not_inherited"


def loosens_what_it_says_it_tightens(document: Document) -> Iterator[tuple[str, str]]:
    """A number of its own, tightened outwards."""
    code = document["jurisdiction"]["code"]
    added = {
        "id": "letters", "kind": "limit", "title": "Letters", "basis": "maintenance",
        "protects": "record", "limit": {"quantity": "sign_letter_height", "low": "2 in"},
    }  # fmt: skip
    document.setdefault("add", []).append(statement_of("add", **added))
    number = len(document.setdefault("tighten", []))
    document["tighten"].append(statement_of("tighten", target=f"{code}/letters", low="1 in"))
    yield f"/tighten/{number}", "wrong_direction"


MUTATIONS: tuple[Mutation, ...] = (
    unknown_key,
    missing_citation,
    missing_standing,
    missing_day,
    ends_before_it_begins,
    no_day,
    week_date,
    wrong_type,
    unknown_word,
    unknown_target,
    misspelt_fact,
    fact_out_of_vocabulary,
    bounds_with_nothing_between,
    wrong_dimension,
    unknown_unit,
    negative_limit,
    no_duration,
    no_calendar_period,
    overlap,
    unknown_parent,
    own_parent,
    no_name,
    relaxes_what_is_not_there,
    loosens_what_it_says_it_tightens,
)


def test_a_country_does_not_lie_in_its_own_state() -> None:
    """Parents that lead in a circle are refused, wherever the circle closes."""
    document = document_of("us.toml")
    document["jurisdiction"]["parent"] = "us-mn"
    assert ("/jurisdiction/parent", "cycle") in mistakes(document, "us.toml")


def mistakes(document: Document, name: str) -> dict[tuple[str, str], str]:
    """What lint says, by place and code."""
    try:
        parse_layer(document, name=name)
    except DataError as refused:
        return {(p.pointer, p.code): p.message for p in refused.problems}
    return {}


@pytest.mark.parametrize("name", PLACES)
def test_shipped_places_are_clean(name: str) -> None:
    """What is not spoilt has no mistake."""
    assert mistakes(document_of(name), name) == {}


@pytest.mark.parametrize("mutation", MUTATIONS, ids=lambda mutation: mutation.__name__)
@pytest.mark.parametrize("name", PLACES)
def test_every_mistake_is_named_in_one_run(name: str, mutation: Mutation) -> None:
    """Put in at every place where it can be made, each is named there, with a reason."""
    document = document_of(name)
    expected = set(mutation(document))
    found = mistakes(document, name)
    assert expected <= found.keys()
    assert all(len(found[mistake]) > 10 for mistake in expected)
