"""What another edition, another day or an override changes for one opening.

Requirements are matched by their name within a series, so that the same rule in two editions is
one rule whose number moved. Only what binds is compared. What one edition has and the other was
not read for is no change of the code: it stands under `newly_read` and `no_longer_read`, and
`not_read` tells the gaps on either side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from rules.asking import requirements, unknown_place
from rules.differences import Difference, difference
from rules.errors import InputError, UnknownNameError
from rules.gaps import ByName, left_out, parted
from rules.judging.answer import answer
from rules.judging.findings import read_findings
from rules.layers import Layer, LayerKind
from rules.library import alias, load
from rules.lint import parse_layer
from rules.model import Requirement, RequirementSet, Resolved
from rules.wording import in_words

_VISIT = frozenset(("findings", "answer"))


def compare(
    before: RequirementSet, after: RequirementSet, visits: Sequence[Mapping[str, Any]] = ()
) -> dict[str, Any]:
    """What `after` asks more, less or otherwise than `before`, and which verdicts would differ.

    Each of `visits` has the `findings` as `judge` takes them, with their `on`, and may have the
    stored `answer` of that day, which then stands for "before". They were accepted once: what
    neither set knows is no mistake here. Raises InputError for what is no visit.
    """
    (old, gaps_before), (new, gaps_after) = parted(_binding(before)), parted(_binding(after))
    both = sorted(old.keys() & new.keys())
    moved: dict[Difference | None, list[str]] = {}
    for name in both:
        moved.setdefault(_kind(old[name].requirement, new[name].requirement), []).append(name)
    return {
        "before": _set_json(before),
        "after": _set_json(after),
        "added": _alone(new, old, gaps_before, unread=False),
        "withdrawn": _alone(old, new, gaps_after, unread=False),
        "newly_read": _alone(new, old, gaps_before, unread=True),
        "no_longer_read": _alone(old, new, gaps_after, unread=True),
        "not_read": {
            "before": [_one(*gap) for gap in sorted(gaps_before.items())],
            "after": [_one(*gap) for gap in sorted(gaps_after.items())],
        },
        **{
            kind.value: [_pair(name, old[name], new[name]) for name in moved.get(kind, [])]
            for kind in Difference
        },
        "unchanged": len(moved.get(None, [])),
        "visits": [_visit(n, visit, before, after) for n, visit in enumerate(visits)],
    }


def under(
    edition: str,
    *,
    facts: Mapping[str, object],
    jurisdiction: str,
    on: date,
    listed_instructions: Sequence[Mapping[str, object]] = (),
    layers: Sequence[Layer] = (),
) -> RequirementSet:
    """The requirements as if that edition of a publication governed this opening, new or existing.

    `layers` are those of the place, as `requirements` takes them. Raises UnknownNameError where
    no publication or place has that name.
    """
    library = load()
    if jurisdiction not in library.places:
        raise UnknownNameError(unknown_place(library, jurisdiction))
    held = requirements(
        facts=facts,
        jurisdiction=jurisdiction,
        on=on,
        listed_instructions=listed_instructions,
        layers=[*layers, supposed(edition, jurisdiction, layers)],
    )
    places = [layer.code for layer in layers if layer.kind is LayerKind.PLACE]
    return replace(held, jurisdiction=(places or [jurisdiction])[-1])


def supposed(edition: str, jurisdiction: str, above: Sequence[Layer] = ()) -> Layer:
    """A layer, below all of `above`, that adopts an edition for every door, new or existing.

    Raises UnknownNameError where no publication has that name.
    """
    library = load()
    if edition not in library.publications:
        raise UnknownNameError(f"no edition has the id {edition!r}")
    publication = library.publications[edition]
    citation = {
        "publication": publication.title,
        "edition": publication.edition,
        "clause": "as a whole",
        "note": "supposed for a comparison, not adopted",
    }
    adoption = {
        "publication": edition,
        "from": date(1900, 1, 1),
        "existing_doors": "this_edition",
        "citation": citation,
        "standing": "secondary",
    }
    places = [layer.code for layer in above if layer.kind is LayerKind.PLACE]
    parent = (places or [jurisdiction])[-1]
    place = {"code": "supposed", "parent": parent, "name": "supposed", "kind": "supposed"}
    document = {"jurisdiction": place, "adopt": [adoption]}
    return parse_layer(document, name=edition, above=above)


def _binding(held: RequirementSet) -> dict[str, Resolved]:
    return {_name(item.requirement): item for item in held.items if not item.advisory}


def _kind(old: Requirement, new: Requirement) -> Difference | None:
    """How the one differs from the other; restated where a reader would see no difference but in
    where it is written.
    """
    kind = difference(old.spec, new.spec)
    if kind in {None, Difference.CHANGED} and in_words(old.spec) == in_words(new.spec):
        same = kind is None and old.citation.clause == new.citation.clause
        return None if same else Difference.RESTATED
    return kind


def refuse_strangers(before: str, after: str) -> None:
    """Refuse two editions that are not of one publication: nothing in them answers to another.

    Raises UnknownNameError; a day, or what is no edition, is left to others.
    """
    publications = load().publications
    series = [publications[name].series or name for name in (before, after) if name in publications]
    if len(set(series)) > 1:
        message = (
            f"{before} and {after} are editions of two publications; only editions of one can be "
            "compared"
        )
        raise UnknownNameError(message)


def _name(requirement: Requirement) -> str:
    """The name within the series where a publication set it, else the id."""
    library = load()
    if requirement.id.partition("/")[0] in library.publications:
        return alias(library, requirement)
    return requirement.id


def _alone(here: ByName, there: ByName, gaps: ByName, *, unread: bool) -> list[dict[str, object]]:
    """What stands only here: where the other side was not read, or where it was."""
    names = sorted(here.keys() - there.keys())
    return [_one(name, here[name]) for name in names if left_out(name, gaps) is unread]


def _set_json(held: RequirementSet) -> dict[str, str]:
    return {
        "jurisdiction": held.jurisdiction,
        "on": held.on.isoformat(),
        "requirements_digest": held.digest,
    }


def _one(name: str, item: Resolved) -> dict[str, object]:
    citation = item.requirement.citation
    return {
        "name": name,
        "requirement": item.requirement.id,
        "title": item.requirement.title,
        "says": in_words(item.requirement.spec),
        "source": f"{citation.publication}, {citation.edition}, {citation.clause}",
        "layer": item.layer,
        "missing_facts": list(item.missing_facts),
    }


def _pair(name: str, old: Resolved, new: Resolved) -> dict[str, object]:
    return {"name": name, "before": _one(name, old), "after": _one(name, new)}


# --- stored visits ---------------------------------------------------------------------------


def _visit(
    number: int, visit: Mapping[str, Any], before: RequirementSet, after: RequirementSet
) -> dict[str, object]:
    at = f"/visits/{number}"
    if not isinstance(visit, Mapping) or not visit.keys() <= _VISIT or "findings" not in visit:
        message = "a visit has its findings, and the stored answer where there is one"
        raise InputError.at(at, "not_a_visit", message)
    try:
        found = read_findings(visit["findings"], before.on)
    except InputError as refused:
        inside = f"{at}/findings"
        moved = [replace(p, pointer=f"{inside}{p.pointer}") for p in refused.problems]
        raise InputError(moved) from refused
    was = _stored(visit["answer"], at) if "answer" in visit else answer(before, found)
    now = answer(after, found)
    old, new = _verdicts(was), _verdicts(now)
    return {
        "index": number,
        "on": found.on.isoformat(),
        "activity": found.activity.value,
        "summary": {"before": was["summary"]["verdict"], "after": now["summary"]["verdict"]},
        "differ": [
            {
                "name": name,
                "before": _word(old, name),
                "after": _word(new, name),
                "says": {"before": _message(old, name), "after": _message(new, name)},
            }
            for name in sorted(old.keys() | new.keys())
            if _word(old, name) != _word(new, name)
        ],
    }


def _stored(judged: object, at: str) -> Mapping[str, Any]:
    """A stored answer, as far as it is read here."""
    if not isinstance(judged, Mapping) or not _is_answer(judged):
        message = "an answer of judge is expected here, with its summary and verdicts"
        raise InputError.at(f"{at}/answer", "not_an_answer", message)
    return judged


def _is_answer(judged: Mapping[str, Any]) -> bool:
    match judged:
        case {"summary": {"verdict": str()}, "verdicts": [*verdicts]}:
            return all(_is_verdict(verdict) for verdict in verdicts)
    return False


def _is_verdict(verdict: object) -> bool:
    match verdict:
        case {"requirement": str(), "verdict": str()}:
            return True
    return False


def _verdicts(judged: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {series_name(v["requirement"]): v for v in judged["verdicts"]}


def _word(verdicts: Mapping[str, Mapping[str, Any]], name: str) -> str | None:
    return verdicts[name]["verdict"] if name in verdicts else None


def _message(verdicts: Mapping[str, Mapping[str, Any]], name: str) -> str | None:
    """Why, in words; a stored answer may be of a library that kept none."""
    return verdicts[name].get("message") if name in verdicts else None


def series_name(identifier: str) -> str:
    """The name of a requirement within its series, the same in every edition, by its id."""
    requirement = load().requirements.get(identifier)
    return identifier if requirement is None else _name(requirement)
