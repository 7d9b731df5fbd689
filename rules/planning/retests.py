"""What a retest covers: what failed, and what hangs on the parts that were repaired."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import StrEnum
from typing import Any, NamedTuple

from rules.errors import InputError, Problem
from rules.model import RequirementSet, Resolved, SequenceSpec
from rules.planning.items import Asked, by_its_own_instructions
from rules.planning.names import subject_of
from rules.planning.order import order
from rules.practice.parts import EVERY_SEQUENCE, SORTS, known_parts


class By(StrEnum):
    """Why a thing is in the scope, the strongest first."""

    FAILED = "failed"
    PART = "part"
    CUSTOM = "custom"  # usual beside such a failure; nobody is bound to it


class Reason(NamedTuple):
    """Why one subject is tried again."""

    by: By
    because: str


def retest_scope(
    requirements: RequirementSet, *, subjects: Sequence[str], parts: Sequence[str]
) -> list[dict[str, Any]]:
    """What a retest must cover at this door, one entry for each requirement.

    `subjects` are what failed: `sequence:obstruction`, `quantity:closing_speed`,
    `check:label-legible`, `requirement:<id>`, or the id alone. `parts` are words of the vocabulary
    of parts. Each entry has `subject`, `requirement` (None where nothing here asks for the failed
    thing any more), `title`, `asked`, `needed`, `missing_facts`, `by` and `because`. `needed` is
    what the retest is not whole without: what failed, and every sequence that binds here and hangs
    on a repaired part. What failed comes first, then sequences in the order in which they are run.
    Raises InputError for a subject or a part that is none.
    """
    failed = _failed(requirements, subjects, parts)
    reasons: dict[str, Reason] = {subject: Reason(By.FAILED, "it failed") for subject in failed}
    for name in parts:
        part = known_parts().parts[name]
        for subject in _matching(requirements, (*part.hanging, *_naming(requirements, name))):
            reason = Reason(By.PART, f"it hangs on the {part.words}: {part.because}")
            reasons.setdefault(subject, reason)
    for failure in (known_parts().failures.get(subject) for subject in failed):
        if failure is not None:
            for subject in _matching(requirements, failure.beside):
                reasons.setdefault(subject, Reason(By.CUSTOM, failure.because))
    ordered = sorted(reasons, key=lambda subject: _place(subject, reasons[subject].by))
    return [entry for subject in ordered for entry in _entries(requirements, subject, reasons)]


def _failed(
    requirements: RequirementSet, subjects: Sequence[str], parts: Sequence[str]
) -> list[str]:
    """What failed as subjects, each once; every mistake of both lists is refused together."""
    by_id = {one.requirement.id: subject_of(one) for one in requirements.items}
    problems, failed = [], []
    for index, subject in enumerate(subjects):
        sort, _, name = subject.partition(":")
        if sort in SORTS and name:
            failed.append(subject)
        elif (wanted := name if sort == "requirement" else subject) in by_id:
            failed.append(by_id[wanted])
        elif sort == "requirement" and name:
            failed.append(subject)
        else:
            message = (
                f"{subject[:80]!r} is no subject and no requirement of this door; a subject begins "
                f"with {', '.join(f'{one}:' for one in (*SORTS, 'requirement'))}"
            )
            problems.append(Problem(f"/subjects/{index}", "unknown_subject", message))
    known = known_parts().parts
    problems += [
        Problem(
            f"/parts/{index}",
            "unknown_part",
            f"no part is named {part[:80]!r}; there are: {', '.join(known)}",
        )
        for index, part in enumerate(parts)
        if part not in known
    ]
    if problems:
        raise InputError(problems)
    return list(dict.fromkeys(failed))


def _naming(requirements: RequirementSet, part: str) -> list[str]:
    """The sequences whose own rule names the part."""
    return [
        subject_of(one)
        for one in requirements.items
        if isinstance(spec := one.requirement.spec, SequenceSpec) and part in spec.after_parts
    ]


def _matching(requirements: RequirementSet, wanted: Sequence[str]) -> Iterator[str]:
    """Which of these subjects something at this door asks for."""
    here = dict.fromkeys(subject_of(one) for one in requirements.items)
    for subject in here:
        every = EVERY_SEQUENCE in wanted and subject.startswith("sequence:")
        if every or subject in wanted:
            yield subject


def _place(subject: str, by: By) -> tuple[bool, int, int, str]:
    sort, _, name = subject.partition(":")
    rank = order().place(name).rank if sort == SORTS[0] else 0
    return by is not By.FAILED, SORTS.index(sort) if sort in SORTS else len(SORTS), rank, name


def _entries(
    requirements: RequirementSet, subject: str, reasons: dict[str, Reason]
) -> Iterator[dict[str, Any]]:
    by, because = reasons[subject]
    asking = [one for one in requirements.items if subject_of(one) == subject]
    if not asking:
        yield {
            "subject": subject,
            "requirement": None,
            "title": subject.partition(":")[2].replace("_", " "),
            "asked": None,
            "needed": False,
            "missing_facts": [],
            "by": by.value,
            "because": f"{because}; nothing at this door asks for it any more",
        }
    for one in asking:
        yield {
            "subject": subject,
            "requirement": one.requirement.id,
            "title": one.requirement.title,
            "asked": _asked(one).value,
            "needed": _needed(one, by),
            "missing_facts": list(one.missing_facts),
            "by": by.value,
            "because": _told(because, one),
        }


def _told(because: str, resolved: Resolved) -> str:
    """A fact that is not known takes nothing out of the scope; it is asked for."""
    missing = ", ".join(resolved.missing_facts)
    return f"{because}; whether it applies hangs on: {missing}" if missing else because


def _asked(resolved: Resolved) -> Asked:
    if by_its_own_instructions(resolved):
        return Asked.PER_DOOR
    return Asked.ADVISORY if resolved.advisory else Asked.REQUIRED


def _needed(resolved: Resolved, by: By) -> bool:
    """Whether the retest is not whole without it; what binds nobody is needed nowhere."""
    if resolved.advisory or by is By.CUSTOM:
        return False
    return by is By.FAILED or isinstance(resolved.requirement.spec, SequenceSpec)
