"""Pages that a person can read: what applies and why, what was found and what it comes to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from textwrap import TextWrapper
from typing import Any

from rules.model import Citation, LineageStep, RequirementSet, Resolved
from rules.vocabulary import Adoption, Standing, VerdictWord
from rules.wording import in_words, probability_in_words

WIDTH = 96
CAUTION = (
    "This page speaks of requirements and of what was tested, not of the door as a whole. Local "
    "code, the authority having jurisdiction and licensed practice decide."
)
_HEADINGS = {
    VerdictWord.DOES_NOT_CONFORM: "Does not conform",
    VerdictWord.INCONCLUSIVE: "Cannot be judged",
    VerdictWord.NOT_TESTED: "Not tested",
    VerdictWord.CONFORMS: "Conforms",
    VerdictWord.NOT_APPLICABLE: "Does not apply",
}
_STANDINGS = {
    Standing.VERIFIED: "read in the publisher's or the government's own text",
    Standing.SECONDARY: "read in a secondary source, not in the publisher's own text",
    Standing.FROM_MEMORY: "from memory, not read; advisory until somebody adopts it",
    Standing.COMMON_PRACTICE: "custom of the trade, no source; advisory until somebody adopts it",
}


def explain_answer(answer: Mapping[str, Any]) -> str:
    """The page on one judged visit, from the answer of `judge`: worst first."""
    summary, library = answer["summary"], answer["library"]
    head = f"{answer['activity']} on {answer['on']}, {answer['jurisdiction']}"
    return _page(
        [
            head,
            f"decision rule: {answer['decision_rule']}",
            f"requirements {library['requirements_digest']}, library {library['version']}",
            "",
            *_wrapped(summary["says"]),
            *_grouped(answer["verdicts"]),
            *_section("Advisory, outside the summary", map(_verdict, answer["advisory"])),
            *_list("Applies, but this activity does not ask for it", summary["not_asked"]),
            *_list(
                "Sent, but no requirement here asks for it",
                [f"{one['pointer']} {one['name']}" for one in answer["unmatched"]],
            ),
        ]
    )


def explain_requirements(requirements: RequirementSet) -> str:
    """The page on everything that applies to one opening on one day, with its lineage."""
    binding = [item for item in requirements.items if not item.advisory]
    advisory = [item for item in requirements.items if item.advisory]
    return _page(
        [
            f"Requirements in {requirements.jurisdiction} on {requirements.on}",
            f"digest {requirements.digest}",
            *_section("Binding", map(_requirement, binding)),
            *_section("Advisory: shown apart, binds nobody by itself", map(_requirement, advisory)),
        ]
    )


def _page(lines: Iterable[str]) -> str:
    return "\n".join([*lines, "", *_wrapped(CAUTION), ""])


def _wrapped(text: str, indent: int = 0) -> list[str]:
    space = " " * indent
    wrapper = TextWrapper(WIDTH, initial_indent=space, subsequent_indent=space)
    return wrapper.wrap(text) or [""]


def _section(heading: str, blocks: Iterable[list[str]]) -> list[str]:
    lines = [line for block in blocks for line in ["", *block]]
    return ["", heading, "-" * len(heading), *lines[1:]] if lines else []


def _list(heading: str, names: list[str]) -> list[str]:
    return _section(heading, [[f"  {name}" for name in names]] if names else [])


# --- verdicts --------------------------------------------------------------------------------


def _grouped(verdicts: list[dict[str, Any]]) -> Iterator[str]:
    for word, heading in _HEADINGS.items():
        of_word = [verdict for verdict in verdicts if verdict["verdict"] == word]
        yield from _section(f"{heading} ({len(of_word)})", map(_verdict, of_word))


def _verdict(verdict: Mapping[str, Any]) -> list[str]:
    lines = [*_wrapped(verdict["title"], 2), *_wrapped(verdict["message"], 4)]
    if verdict["limit"] and not verdict["reading"]:
        lines += _wrapped(f"Limit: {_bounds(verdict['limit'])}", 4)
    if verdict["reason"]:
        lines += _wrapped(f"Reason: {verdict['reason']}", 4)
    if verdict["probability_of_conformity"]:
        probability = probability_in_words(verdict["probability_of_conformity"])
        lines += _wrapped(f"Probability of conformity {probability}, {verdict['band']}", 4)
    for part in (*verdict["times"], *verdict["notes"]):
        lines += _wrapped(part["message"], 4)
    if verdict["limit"] and verdict["limit"]["nominal"]:
        lines += _wrapped(f"Usual: about {verdict['limit']['nominal']}", 4)
    lines += _wrapped(f"Source: {_cited(verdict['citation'], verdict['standing'])}", 4)
    lines += _carried(verdict["applied_edition"], verdict["citation"]["edition"])
    if verdict["adopted_by"]:
        lines += _wrapped(f"Adopted by: {_cited(verdict['adopted_by'])}", 4)
    steps = ", ".join(_changed(**step) for step in verdict["lineage"])
    lines += _wrapped(f"Set by: {steps}{_unrecorded(verdict['adoption'])}", 4)
    return [*lines, *_wrapped(f"Protects {verdict['protects']}; {verdict['requirement']}", 4)]


def _bounds(limit: Mapping[str, Any]) -> str:
    low, high = limit["low"], limit["high"]
    if low is None and high is None:
        return limit["worked_out"] or "to be supplied for each door"
    if low is not None and high is not None:
        bounds = f"{low} to {high}"
    else:
        bounds = f"at most {high}" if low is None else f"at least {low}"
    said = bounds if limit["unit"] == "1" else f"{bounds} {limit['unit']}"
    return f"{said} ({limit['worked_out']})" if limit["worked_out"] else said


def _changed(layer: str, change: str, since: str | None, before: str | None) -> str:
    words = f"{layer} ({change}{f' since {since}' if since else ''})"
    return f"{words}, before that {before}" if before else words


def _cited(citation: Mapping[str, str], standing: str = "") -> str:
    parts = [citation[key] for key in ("publication", "edition", "clause") if citation.get(key)]
    note = f" ({citation['note']})" if citation.get("note") else ""
    known = f"; {_STANDINGS[Standing(standing)]}" if standing else ""
    return f"{', '.join(parts)}{note}{known}"


def _carried(applied: str | None, read: str) -> list[str]:
    if not applied or applied == read:
        return []
    text = f"Held as part of the edition {applied}, whose own wording was not read"
    return _wrapped(text, 4)


def _unrecorded(adoption: str) -> str:
    if adoption == Adoption.RECORDED:
        return ""
    return "; no adoption is recorded here, so it applies as reference"


# --- requirements ----------------------------------------------------------------------------


def _requirement(item: Resolved) -> list[str]:
    requirement = item.requirement
    lines = [*_wrapped(requirement.title, 2), *_wrapped(in_words(requirement.spec), 4)]
    if item.missing_facts:
        missing = ", ".join(item.missing_facts)
        lines += _wrapped(f"Whether it applies cannot be told without: {missing}", 4)
    cited = _cited(_parts(requirement.citation), requirement.standing)
    lines += _wrapped(f"Source: {cited}", 4)
    lines += _carried(item.applied_edition, requirement.citation.edition)
    steps = ", ".join(_changed_step(step) for step in item.lineage)
    lines += _wrapped(f"Set by: {steps}{_unrecorded(item.adoption)}", 4)
    activities = ", ".join(sorted(requirement.required_in)) or "no activity by itself"
    lines += _wrapped(f"Looked at in: {activities}", 4)
    return [*lines, *_wrapped(f"Protects {requirement.protects}; {requirement.id}", 4)]


def _parts(citation: Citation) -> dict[str, str]:
    return {
        "publication": citation.publication,
        "edition": citation.edition,
        "clause": citation.clause,
        "note": citation.note,
    }


def _changed_step(step: LineageStep) -> str:
    since = step.since.isoformat() if step.since else None
    before = f"{step.before.id} ({in_words(step.before.spec)})" if step.before else None
    return _changed(step.layer, step.change, since, before)
