"""What more to tell of an opening, so that more of its requirements can be judged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rules.facts import FACTS, FactKind
from rules.judging.outcome import UNSUPPLIED

_FACTS = "fact_missing: "  # as `rules.judging.outcome` writes it


def waits_for(verdict: Mapping[str, Any]) -> tuple[str, ...]:
    """The facts without which this verdict could not be given; none where it waits for no fact."""
    reason = verdict["reason"] or ""
    return tuple(reason.removeprefix(_FACTS).split(", ")) if reason.startswith(_FACTS) else ()


def to_be_told(verdicts: Iterable[Mapping[str, Any]]) -> list[str]:
    """Each thing that is not known, once, in plain words, with how many of these verdicts wait
    for it: what most wait for first.
    """
    counts: dict[str, int] = {}
    for verdict in verdicts:
        wanted = [in_plain_words(fact) for fact in waits_for(verdict)]
        if verdict["reason"] == UNSUPPLIED.reason:
            wanted = ["what this door's listed instructions say (none are on file)"]
        for words in wanted:
            counts[words] = counts.get(words, 0) + 1
    most_first = sorted(counts.items(), key=lambda told: (-told[1], told[0]))
    return [f"{words}: {_waiting(count)}" for words, count in most_first]


def in_plain_words(fact: str) -> str:
    """A fact as one asks a person for it, with the name it is sent under."""
    known = FACTS[fact]
    if known.kind is FactKind.FLAG:
        return f"{known.sense}, yes or no ({fact})"
    choice = f", one of {', '.join(known.words)}" if known.words else ""
    return f"{known.sense}{choice} ({fact})"


def _waiting(count: int) -> str:
    return f"{count} requirement{' waits' if count == 1 else 's wait'} for it"
