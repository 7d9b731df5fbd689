"""What a door's sound and standing may mean: its own table first, then the custom of the trade."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from typing import Any

from rules.canonical import plain
from rules.errors import InputError, Problem
from rules.facts import check_facts
from rules.loading.predicates import read_predicate
from rules.loading.requirements import read_citation
from rules.loading.table import Table
from rules.model import Citation
from rules.practice.tables import practice_table
from rules.predicates import ALWAYS, Facts, Predicate
from rules.vocabulary import DoorType

NOT_KNOWN = "not_known"
SEEN = {
    "heard": ("steady", "repeated", "silent"),
    "door": ("open", "closed", "part_way"),
    "mains": ("on", "off"),
    "alarm": ("yes", "no"),
}
CALLS = ("emergency", "building", "service_firm", "alarm_contractor")
SAYS = {
    "en": "This says what such a sign may mean, never that a building or a door is safe. The "
    "door's own instructions, local code and the people trained on it go before it.",
    "es": "Esto dice lo que puede significar una señal así, nunca que un edificio o una puerta "
    "sean seguros. Antes van las instrucciones de la propia puerta, las normas locales y las "
    "personas formadas en ella.",
}


class Language(StrEnum):
    """In which language the words are."""

    ENGLISH = "en"
    SPANISH = "es"


@dataclass(frozen=True, slots=True)
class Words:
    """What a sign may mean, what to do first and what not to do, in one language."""

    may_mean: str
    do_first: tuple[str, ...]
    do_not: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sign:
    """One row: `seen` holds the words under which it is told, by what is asked; what is absent may
    be anything. `subjects` are what a report of it is about, by door type; an empty one is any.
    """

    sign: str
    seen: Mapping[str, tuple[str, ...]]
    applies: Predicate
    words: Mapping[str, Words]
    call: tuple[str, ...]
    subjects: Mapping[str, str] = field(default_factory=dict)
    citation: Citation | None = None

    def fits(self, seen: Mapping[str, str]) -> bool:
        """Whether it may be told of what was seen; what nobody knows fits every word."""
        return all(seen[key] in {*words, NOT_KNOWN} for key, words in self.seen.items())

    def hangs_on(self, seen: Mapping[str, str]) -> list[str]:
        """Of what was not known, that which would tell whether it fits."""
        return [key for key in self.seen if seen[key] == NOT_KNOWN]


@dataclass(frozen=True, slots=True)
class Signs:
    """The rows, what holds of every sign, and what is said where no row fits."""

    rows: tuple[Sign, ...]
    first: Mapping[str, tuple[str, ...]]
    never: Mapping[str, tuple[str, ...]]
    unknown: Sign


def signs(
    *,
    heard: str,
    door: str,
    mains: str,
    alarm: str,
    facts: Mapping[str, object] | None = None,
    own: Sequence[Mapping[str, object]] = (),
    language: str = "en",
) -> dict[str, Any]:
    """What a door's sound and standing may mean, what to do first, what not to do, whom to call.

    `heard` is steady, repeated or silent; `door` open, closed or part_way; `mains` on or off;
    `alarm` (in the building) yes or no; each of them may be `not_known`. `own` is the door's own
    table from its instructions, rows of the same words with `may_mean`, `do_first`, `do_not`,
    `call` and `citation`; those that fit go first, as they were written. Every combination is
    answered, if only by "cannot be known from this". Raises InputError for a word that is none.
    """
    seen = {"heard": heard, "door": door, "mains": mains, "alarm": alarm}
    _check_words(seen, language)
    known = check_facts(facts or {})
    table = _packaged()
    rows = [*_fitting(read_own(own), seen, known), *_fitting(table.rows, seen, known)]
    told = [_told(row, seen, known, language) for row in rows]
    return {
        **seen,
        "language": language,
        "says": SAYS[language],
        "first": list(table.first[language]),
        "never": list(table.never[language]),
        "known": bool(told),
        "meanings": told or [_told(table.unknown, seen, known, language)],
    }


def _check_words(seen: Mapping[str, str], language: str) -> None:
    problems = [
        Problem(f"/{key}", "unknown_word", f"one of {', '.join((*SEEN[key], NOT_KNOWN))}")
        for key, word in seen.items()
        if word not in (*SEEN[key], NOT_KNOWN)
    ]
    if language not in set(Language):
        problems.append(Problem("/language", "unknown_word", f"one of {', '.join(Language)}"))
    if problems:
        raise InputError(problems)


def _fitting(rows: Iterable[Sign], seen: Mapping[str, str], facts: Facts) -> Iterator[Sign]:
    for row in rows:
        if row.fits(seen) and row.applies.ask(facts).holds is not False:
            yield row


def _told(row: Sign, seen: Mapping[str, str], facts: Facts, language: str) -> dict[str, Any]:
    """A row as it is answered; a door's own words stay in the language they were written in."""
    words = row.words.get(language) or next(iter(row.words.values()))
    own = row.citation is not None
    return {
        "sign": row.sign,
        "from": "listed_instructions" if own else "common_practice",
        "citation": plain(row.citation),
        "hangs_on": row.hangs_on(seen),
        "missing_facts": list(row.applies.ask(facts).missing),
        "may_mean": words.may_mean,
        "do_first": list(words.do_first),
        "do_not": list(words.do_not),
        "call": list(row.call),
        "subject": row.subjects.get(str(facts.get("door_type")), row.subjects.get("")),
    }


# --- the tables ------------------------------------------------------------------------------


@cache
def _packaged() -> Signs:
    return practice_table("signs", _read)


def _read(root: Table) -> Signs:
    always = root.table("always", required=True)
    unknown = root.table("unknown", required=True)
    rows = tuple(_row(row) for row in root.tables("sign"))
    if always is None or unknown is None:
        return Signs(rows, {}, {}, Sign("unknown", {}, ALWAYS, {}, ()))
    first, never = _in_languages(always, "first"), _in_languages(always, "never")
    always.close()
    fallback = Sign("unknown", {}, ALWAYS, _words(unknown), _calls(unknown))
    unknown.close()
    return Signs(rows, first, never, fallback)


def _in_languages(table: Table, key: str) -> dict[str, tuple[str, ...]]:
    words = table.table(key, required=True)
    if words is None:
        return {}
    found = {language.value: words.texts(language, required=True) for language in Language}
    words.close()
    return found


def _row(row: Table) -> Sign:
    found = Sign(
        row.slug("sign"),
        _seen(row),
        read_predicate(row.table("applies")),
        _words(row),
        _calls(row),
        _subjects(row.table("subjects")),
    )
    row.close()
    return found


def _subjects(table: Table | None) -> dict[str, str]:
    if table is None:
        return {}
    found = {door.value: table.text(door) for door in DoorType if table.has(door)}
    table.close()
    return found


def _seen(row: Table) -> dict[str, tuple[str, ...]]:
    found = {key: row.texts(key) for key in SEEN if row.has(key)}
    for key, words in found.items():
        for word in words:
            if word not in SEEN[key]:
                row.refuse(key, "unknown_word", f"{word[:40]!r} is not one of {SEEN[key]}")
    return found


def _words(row: Table) -> dict[str, Words]:
    means = row.table("may_mean", required=True)
    do_first, do_not = _in_languages(row, "do_first"), _in_languages(row, "do_not")
    if means is None:
        return {}
    found = {
        language.value: Words(
            means.text(language, required=True),
            do_first.get(language.value, ()),
            do_not.get(language.value, ()),
        )
        for language in Language
    }
    means.close()
    return found


def _calls(row: Table) -> tuple[str, ...]:
    found = row.texts("call", required=True)
    for word in found:
        if word not in CALLS:
            row.refuse("call", "unknown_word", f"{word[:40]!r} is not one of {CALLS}")
    return found


def read_own(raw: object, pointer: str = "/own") -> list[Sign]:
    """A door's own table, checked; raises InputError with every mistake."""
    if not isinstance(raw, Sequence) or isinstance(raw, str | bytes):
        raise InputError.at(pointer, "wrong_type", "a table of signs is a list of objects")
    problems: list[Problem] = []
    found = []
    for place, item in enumerate(raw):
        where = f"{pointer}/{place}"
        if isinstance(item, Mapping):
            found.append(_own(Table(item, where, problems), place))
        else:
            problems.append(Problem(where, "wrong_type", "a sign is an object"))
    if problems:
        raise InputError(problems)
    return found


def _own(row: Table, place: int) -> Sign:
    seen = _seen(row)
    if not seen:
        row.refuse("", "missing", f"give at least one of {', '.join(SEEN)}")
    words = Words(
        row.text("may_mean", required=True),
        row.texts("do_first", required=True),
        row.texts("do_not"),
    )
    call = _calls(row) if row.has("call") else ("service_firm",)
    subjects = {"": row.text("subject")} if row.has("subject") else {}
    citation = read_citation(row)
    found = Sign(f"own-{place + 1}", seen, ALWAYS, {"": words}, call, subjects, citation)
    row.close()
    return found
