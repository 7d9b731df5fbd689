"""Which openings a requirement applies to: a declarative, three-valued test over facts.

A predicate is true, false, or unknown because a fact is missing; unknown never means false.
Nothing is evaluated as code.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

Facts = Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Answer:
    """`holds` is None where it cannot be told; `missing` names the facts that would tell."""

    holds: bool | None
    missing: tuple[str, ...] = ()


YES, NO = Answer(holds=True), Answer(holds=False)


@dataclass(frozen=True, slots=True)
class OneOf:
    """The fact is one of the values listed."""

    fact: str
    values: tuple[object, ...]

    def ask(self, facts: Facts) -> Answer:
        """Whether the fact is among the values."""
        value = facts.get(self.fact)
        if value is None:
            return Answer(None, (self.fact,))
        return YES if value in self.values else NO


@dataclass(frozen=True, slots=True)
class Within:
    """The fact, a number or a date, lies between the bounds given, both inside."""

    fact: str
    at_least: Fraction | date | None = None
    at_most: Fraction | date | None = None

    def ask(self, facts: Facts) -> Answer:
        """Whether the fact lies inside the bounds."""
        value = facts.get(self.fact)
        if value is None:
            return Answer(None, (self.fact,))
        above = self.at_least is None or value >= self.at_least  # type: ignore[operator]
        below = self.at_most is None or value <= self.at_most  # type: ignore[operator]
        return YES if above and below else NO


@dataclass(frozen=True, slots=True)
class AllOf:
    """Every part holds. False as soon as one is false, whatever is missing elsewhere."""

    parts: tuple[Predicate, ...] = ()

    def ask(self, facts: Facts) -> Answer:
        """Kleene's strong conjunction."""
        answers = [part.ask(facts) for part in self.parts]
        if any(a.holds is False for a in answers):
            return NO
        return _known_or_missing(answers, YES)


@dataclass(frozen=True, slots=True)
class AnyOf:
    """At least one part holds. True as soon as one is true, whatever is missing elsewhere."""

    parts: tuple[Predicate, ...]

    def ask(self, facts: Facts) -> Answer:
        """Kleene's strong disjunction."""
        answers = [part.ask(facts) for part in self.parts]
        if any(a.holds is True for a in answers):
            return YES
        return _known_or_missing(answers, NO)


@dataclass(frozen=True, slots=True)
class Not:
    """The part does not hold."""

    part: Predicate

    def ask(self, facts: Facts) -> Answer:
        """Unknown stays unknown."""
        answer = self.part.ask(facts)
        if answer.holds is None:
            return answer
        return NO if answer.holds else YES


Predicate = OneOf | Within | AllOf | AnyOf | Not
ALWAYS = AllOf()


def _known_or_missing(answers: list[Answer], known: Answer) -> Answer:
    missing = tuple(sorted({m for a in answers for m in a.missing}))
    return Answer(None, missing) if missing else known
