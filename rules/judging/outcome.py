"""What one requirement comes to, before it is written into the answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from rules.judging.notes import Note
from rules.vocabulary import VerdictWord


class Outcome(NamedTuple):
    """A verdict with what decided it.

    `reason` is a machine word, empty where the number or the finding speaks for itself.
    `margin` is the distance to the nearest limit in the coherent SI unit, as two whole numbers.
    `details` are the keys of the answer that only this kind of requirement fills.
    `looked_at` tells whether somebody looked; `stated` whether a reason was given for not
    testing.
    """

    verdict: VerdictWord
    message: str
    reason: str = ""
    details: Mapping[str, object] = {}
    notes: tuple[Note, ...] = ()
    margin: tuple[int, int] | None = None
    missing_facts: tuple[str, ...] = ()
    looked_at: bool = True
    stated: bool = False


_BADNESS = {
    VerdictWord.NOT_APPLICABLE: 0,
    VerdictWord.CONFORMS: 1,
    VerdictWord.NOT_TESTED: 2,
    VerdictWord.INCONCLUSIVE: 3,
    VerdictWord.DOES_NOT_CONFORM: 4,
}


def badness(verdict: VerdictWord) -> int:
    """The order in which verdicts govern: the greatest is the worst."""
    return _BADNESS[verdict]


# Reasons that several kinds share.
STATED = "stated"
NO_ACCESS = "no_access"


def fact_missing(facts: tuple[str, ...], message: str) -> Outcome:
    """What it comes to where a deciding fact of the opening is unknown."""
    reason = f"fact_missing: {', '.join(facts)}"
    return Outcome(VerdictWord.INCONCLUSIVE, message, reason, missing_facts=facts)


# What a number to be supplied for each door comes to while none is on file.
UNSUPPLIED = Outcome(
    VerdictWord.INCONCLUSIVE,
    "The number is to come from this door's listed instructions; none are on file.",
    "no_instructions",
)
# What nobody said anything of.
SILENCE = Outcome(
    VerdictWord.NOT_TESTED,
    "Not recorded; what is not recorded is not tested.",
    "not_recorded",
)
