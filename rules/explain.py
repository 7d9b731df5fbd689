"""Pages that a person can read: what applies and why, what was found and what it comes to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from rules.gaps import gap_json
from rules.model import Citation, RequirementSet, Resolved
from rules.pages import cited, listed, page, section, wrapped
from rules.vocabulary import Adoption, Band, VerdictWord
from rules.waiting import in_plain_words, to_be_told, waits_for
from rules.wording import in_words, probability_in_words, said_before

_HEADINGS = {
    VerdictWord.DOES_NOT_CONFORM: "Does not conform",
    VerdictWord.INCONCLUSIVE: "Cannot be judged",
    VerdictWord.NOT_TESTED: "Not tested",
    VerdictWord.CONFORMS: "Conforms",
    VerdictWord.NOT_APPLICABLE: "Does not apply",
}
_BANDS = {
    Band.CLEAR: "the uncertainty does not reach the limit",
    Band.CONDITIONAL: "the limit lies within the uncertainty",
}
_NOT_READ = "Not read: the governing edition may ask more than stands here"


def explain_answer(answer: Mapping[str, Any]) -> str:
    """The page on one judged visit, from the answer of `judge`: worst first."""
    summary, library = answer["summary"], answer["library"]
    head = f"{answer['activity']} on {answer['on']}, {answer['jurisdiction']}"
    return page(
        [
            head,
            f"decision rule: {answer['decision_rule']}",
            "",
            *wrapped(summary["says"]),
            *listed("To judge more, tell us", to_be_told(answer["verdicts"])),
            *section(_NOT_READ, map(_unread, summary["not_read"])),
            *_grouped(answer["verdicts"]),
            *section("Advisory, outside the summary", map(_verdict, answer["advisory"])),
            *listed("Applies, but this activity does not ask for it", summary["not_asked"]),
            *listed(
                "Sent, but no requirement here asks for it",
                [f"{one['pointer']} {one['name']}" for one in answer["unmatched"]],
            ),
        ],
        f"requirements {library['requirements_digest']}, library {library['version']}",
    )


def explain_requirements(requirements: RequirementSet) -> str:
    """The page on everything that applies to one opening on one day, with its lineage."""
    unread = [item for item in requirements.items if item.requirement.states_a_gap]
    binding = [item for item in requirements.items if not item.advisory and item not in unread]
    advisory = [item for item in requirements.items if item.advisory and item not in unread]
    return page(
        [
            f"Requirements in {requirements.jurisdiction} on {requirements.on}",
            *section(_NOT_READ, map(_gap, unread)),
            *section("Binding", map(_requirement, binding)),
            *section("Advisory: shown apart, binds nobody by itself", map(_requirement, advisory)),
        ],
        f"digest {requirements.digest}",
    )


def _unread(gap: Mapping[str, str]) -> list[str]:
    return [*wrapped(gap["edition"], 2), *wrapped(gap["title"], 4)]


# --- verdicts --------------------------------------------------------------------------------


def _grouped(verdicts: list[dict[str, Any]]) -> Iterator[str]:
    for word, heading in _HEADINGS.items():
        of_word = [verdict for verdict in verdicts if verdict["verdict"] == word]
        waiting: dict[tuple[str, ...], list[dict[str, Any]]] = {}
        for verdict in of_word:
            unread = word == VerdictWord.INCONCLUSIVE and not verdict["reading"]
            waiting.setdefault(waits_for(verdict) if unread else (), []).append(verdict)
        blocks = list(map(_verdict, waiting.pop((), [])))
        blocks += [_group(facts, waiting[facts]) for facts in sorted(waiting)]
        yield from section(f"{heading} ({len(of_word)})", blocks)


def _group(facts: tuple[str, ...], verdicts: list[dict[str, Any]]) -> list[str]:
    """Those that wait for the same facts, in a few lines each."""
    wanted = "; ".join(map(in_plain_words, facts))
    lines = wrapped(f"Whether these apply, or what they ask, hangs on: {wanted}", 2)
    for verdict in verdicts:
        lines += wrapped(f"{verdict['title']}; {verdict['requirement']}", 4)
        if verdict["limit"]:
            lines += wrapped(f"Limit: {_bounds(verdict['limit'])}", 6)
        lines += wrapped(f"Source: {cited(verdict['citation'], verdict['standing'])}", 6)
    return lines


def _verdict(verdict: Mapping[str, Any]) -> list[str]:
    lines = [*wrapped(verdict["title"], 2), *wrapped(verdict["message"], 4)]
    if verdict["limit"] and not verdict["reading"]:
        lines += wrapped(f"Limit: {_bounds(verdict['limit'])}", 4)
    if verdict["reason"] and not waits_for(verdict):  # then the message names them
        lines += wrapped(f"Reason: {verdict['reason']}", 4)
    if verdict["probability_of_conformity"]:
        probability = probability_in_words(verdict["probability_of_conformity"])
        lines += wrapped(
            f"Probability of conformity {probability}: {_BANDS[Band(verdict['band'])]}", 4
        )
    for part in (*verdict["times"], *verdict["notes"]):
        lines += wrapped(part["message"], 4)
    if verdict["limit"] and verdict["limit"]["nominal"]:
        lines += wrapped(f"Usual: about {verdict['limit']['nominal']}", 4)
    lines += wrapped(f"Source: {cited(verdict['citation'], verdict['standing'])}", 4)
    lines += _carried(verdict["applied_edition"], verdict["citation"]["edition"])
    if verdict["adopted_by"]:
        lines += wrapped(f"Adopted by: {cited(verdict['adopted_by'])}", 4)
    steps = [(s["layer"], s["change"], s["since"], s["said_before"]) for s in verdict["lineage"]]
    lines += wrapped(f"Set by: {_steps(steps)}{_unrecorded(verdict['adoption'])}", 4)
    return [*lines, *wrapped(f"Protects {verdict['protects']}; {verdict['requirement']}", 4)]


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


def _steps(steps: Iterable[tuple[str, str, str | None, str | None]]) -> str:
    """Each step once, in its order; what was asked before only where the step changed it."""
    return ", then ".join(dict.fromkeys(_changed(*step) for step in steps))


def _changed(layer: str, change: str, since: str | None, said: str | None) -> str:
    words = f"{layer} ({change}{f' since {since}' if since else ''})"
    return f"{words}, where before it said: {said}" if said else words


def _carried(applied: str | None, read: str) -> list[str]:
    if not applied or applied == read:
        return []
    text = (
        f"The edition {applied} governs here. We have not read its wording of this, and hold to "
        f"that of the edition {read}"
    )
    return wrapped(text, 4)


def _unrecorded(adoption: str) -> str:
    if adoption == Adoption.RECORDED:
        return ""
    return "; no adoption is recorded here, so it applies as reference"


# --- requirements ----------------------------------------------------------------------------


def _requirement(item: Resolved) -> list[str]:
    requirement = item.requirement
    lines = [*wrapped(requirement.title, 2), *wrapped(in_words(requirement.spec), 4)]
    if item.missing_facts:
        missing = "; ".join(map(in_plain_words, item.missing_facts))
        lines += wrapped(f"Whether it applies cannot be told without: {missing}", 4)
    lines += wrapped(f"Source: {cited(_parts(requirement.citation), requirement.standing)}", 4)
    lines += _carried(item.applied_edition, requirement.citation.edition)
    lines += _set_by(item)
    activities = ", ".join(sorted(requirement.required_in)).replace("_", " ")
    asked = f"Looked at in: {activities}" if activities else "No kind of visit has to look at it"
    lines += wrapped(asked, 4)
    return [*lines, *wrapped(f"Protects {requirement.protects}; {requirement.id}", 4)]


def _gap(item: Resolved) -> list[str]:
    """What was not read, with no source: there is none."""
    lines = _unread(gap_json(item.requirement))
    if item.missing_facts:
        missing = "; ".join(map(in_plain_words, item.missing_facts))
        lines += wrapped(f"Whether it governs cannot be told without: {missing}", 4)
    return [*lines, *_set_by(item)]


def _set_by(item: Resolved) -> list[str]:
    steps = [
        (step.layer, step.change, step.since.isoformat() if step.since else None, said)
        for step, said in zip(item.lineage, said_before(item), strict=True)
    ]
    return wrapped(f"Set by: {_steps(steps)}{_unrecorded(item.adoption)}", 4)


def _parts(citation: Citation) -> dict[str, str]:
    return {
        "publication": citation.publication,
        "edition": citation.edition,
        "clause": citation.clause,
        "note": citation.note,
    }
