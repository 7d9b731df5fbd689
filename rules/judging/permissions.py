"""Whether a door of this kind may stand here at all: judged on the facts of the opening alone."""

from __future__ import annotations

from rules.judging.outcome import Outcome, fact_missing
from rules.model import PermissionSpec
from rules.predicates import Facts
from rules.vocabulary import VerdictWord


def decide(spec: PermissionSpec, facts: Facts) -> Outcome:
    """The outcome on these facts; inconclusive where a deciding one is unknown."""
    answer = spec.permitted_when.ask(facts)
    if answer.holds is None:
        message = f"{spec.says} It cannot be told without: {', '.join(answer.missing)}."
        return fact_missing(answer.missing, message)
    if answer.holds:
        return Outcome(VerdictWord.CONFORMS, f"Permitted here: {spec.says}")
    return Outcome(VerdictWord.DOES_NOT_CONFORM, f"Not permitted here: {spec.says}")
