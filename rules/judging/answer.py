"""The whole answer of one visit, ready for JSON."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import rules
from rules.gaps import not_read
from rules.judging.compiling import Compiled, compiled
from rules.judging.findings import Findings
from rules.judging.summary import summarize
from rules.judging.verdicts import Verdict, verdicts_of
from rules.model import RequirementSet


def answer(requirements: RequirementSet, found: Findings) -> dict[str, Any]:
    """The verdicts on everything that applies, in the order of the requirements' ids."""
    ready = compiled(requirements)
    judged = list(verdicts_of(ready, found, requirements.facts))
    binding = [one for one in judged if one and not one.item.resolved.advisory]
    advisory = [one for one in judged if one and one.item.resolved.advisory]
    return {
        "summary": summarize(binding, _not_asked(ready, judged), not_read(requirements), found),
        "library": {"version": rules.__version__, "requirements_digest": requirements.digest},
        "jurisdiction": requirements.jurisdiction,
        "on": found.on.isoformat(),
        "activity": found.activity.value,
        "decision_rule": found.rule.value,
        "verdicts": [verdict.json for verdict in binding],
        "advisory": [verdict.json for verdict in advisory],
        "unmatched": _unmatched(found, ready),
    }


def _not_asked(ready: Compiled, judged: list[Verdict | None]) -> list[str]:
    return [
        item.resolved.requirement.id
        for item, verdict in zip(ready.items, judged, strict=True)
        if verdict is None and not item.resolved.advisory
    ]


def _unmatched(found: Findings, ready: Compiled) -> list[dict[str, str]]:
    """Findings that no requirement here asks for: kept in sight, judged by nothing."""
    return [
        {"pointer": at, "name": name}
        for at, name, known in (*_measured(found, ready), *_findings(found, ready))
        if name not in known
    ]


def _measured(found: Findings, ready: Compiled) -> Iterable[tuple[str, str, frozenset[str]]]:
    """Readings and what stands in their place, as `_findings`."""
    for name, readings in found.readings.items():
        for reading in readings:
            yield f"/readings/{reading.position}", name, ready.quantities
    for name, statement in found.statements.items():
        yield f"/readings/{statement.position}", name, ready.quantities


def _findings(found: Findings, ready: Compiled) -> Iterable[tuple[str, str, frozenset[str]]]:
    """Checks, sequences and the times in them: where they stand, their name, the names known."""
    for checks in found.checks.values():
        for check in checks:
            yield f"/checks/{check.position}", check.name, ready.checks
    for name, courses in found.sequences.items():
        for course in courses:
            at = f"/sequences/{course.position}"
            yield at, name, frozenset(ready.steps)
            if name in ready.times:
                known = ready.times[name] | (ready.numbered & found.timed.keys())
                for time in course.times:
                    yield f"{at}/times/{time.position}", time.quantity, known
