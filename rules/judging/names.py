"""Which names findings may use: a name that nothing knows is a typing mistake, never ignored."""

from __future__ import annotations

from functools import cache

from rules.errors import Problem
from rules.judging.compiling import Compiled
from rules.judging.findings import Finding, Findings
from rules.library import load
from rules.model import CheckSpec, Requirement, SequenceSpec


def unknown_names(findings: Findings, compiled: Compiled) -> list[Problem]:
    """Checks and sequences that neither this set nor the packaged data knows, and steps that
    the sequence in this set does not have.
    """
    problems = _unknown(findings.checks, compiled.checks, "check")
    problems += _unknown(findings.sequences, frozenset(compiled.steps), "sequence")
    for name, known in compiled.steps.items():
        for finding in findings.sequences.get(name, ()):
            for number, step in enumerate(finding.steps):
                if step not in known:
                    at = f"/sequences/{finding.position}/steps/{number}/step"
                    message = f"sequence {name} has the steps {', '.join(sorted(known))}"
                    problems.append(Problem(at, "unknown_step", message))
    return problems


def _unknown(
    found: dict[str, tuple[Finding, ...]], here: frozenset[str], key: str
) -> list[Problem]:
    strangers = found.keys() - here
    if strangers:
        strangers -= _known(key)
    return [
        Problem(f"/{key}s/{finding.position}/{key}", f"unknown_{key}", f"no such {key} is known")
        for name in sorted(strangers)
        for finding in found[name]
    ]


@cache
def _known(key: str) -> frozenset[str]:
    names = set()
    for requirement in _packaged():
        if key == "check" and isinstance(requirement.spec, CheckSpec):
            names.add(requirement.spec.check)
        if key == "sequence" and isinstance(requirement.spec, SequenceSpec):
            names.add(requirement.spec.sequence)
    return frozenset(names)


def _packaged() -> list[Requirement]:
    library = load()
    added = [
        amendment.requirement
        for place in library.places.values()
        for amendment in place.amendments
        if amendment.requirement is not None
    ]
    return [*library.requirements.values(), *added]
