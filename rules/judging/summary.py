"""What the binding verdicts of one visit come to, in words that say no more than was tested."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from rules.gaps import gap_json
from rules.judging.findings import Findings
from rules.judging.outcome import badness
from rules.judging.verdicts import Verdict
from rules.model import LimitSpec, Requirement
from rules.vocabulary import DecisionRule, VerdictWord

_CONFORMING = badness(VerdictWord.CONFORMS)
_TESTED = (VerdictWord.CONFORMS, VerdictWord.DOES_NOT_CONFORM)


def summarize(
    binding: Sequence[Verdict],
    not_asked: Sequence[str],
    not_read: Sequence[Requirement],
    findings: Findings,
) -> dict[str, object]:
    """The worst of the binding verdicts with what stands behind it.

    `complete` is true where every required item was looked at, whatever was found. `not_asked`
    are the requirements that apply but that this activity does not ask for and nobody looked at;
    `missing_facts` are the facts of the opening that would settle what is inconclusive for want
    of them; `not_read` is what of the governing editions was not read for such an opening.
    """
    counts = Counter([verdict.outcome.verdict for verdict in binding])
    seen = Counter([verdict.outcome.verdict for verdict in binding if verdict.seen])
    conditional = sum([verdict.conditional for verdict in binding])
    unsettled = [v for v in binding if v.required and not v.settled]
    worst = _worst(counts, seen, binding)
    if conditional and findings.rule is DecisionRule.GUARDED:
        worst = max(worst, VerdictWord.INCONCLUSIVE, key=badness)
    return {
        "verdict": worst.value,
        "says": _says(worst, counts, seen, conditional),
        "counts": {word.value: counts[word] for word in VerdictWord},
        "conditional": conditional,
        "complete": not unsettled and any(v.required or v.seen for v in binding),
        "untested": [
            verdict.item.resolved.requirement.id
            for verdict in binding
            if verdict.outcome.verdict is VerdictWord.NOT_TESTED or _waved_away(verdict)
        ],
        "governing": _governing(binding),
        "not_asked": list(not_asked),
        "not_read": [gap_json(one) for one in not_read],
        "missing_facts": sorted({fact for v in binding for fact in v.outcome.missing_facts}),
    }


def _waved_away(verdict: Verdict) -> bool:
    """Said not to apply, where the facts say that it does and the activity asks for it."""
    return verdict.required and verdict.outcome.verdict is VerdictWord.NOT_APPLICABLE


def _worst(
    counts: Counter[VerdictWord], seen: Counter[VerdictWord], binding: Sequence[Verdict]
) -> VerdictWord:
    """The worst word; nothing conforms where nobody tested anything, nor by being waved away."""
    words = {*seen, *(word for word in counts if badness(word) > _CONFORMING)}
    if not words or any(map(_waved_away, binding)):
        words.add(VerdictWord.NOT_TESTED)
    return max(words, key=badness)


def _says(
    worst: VerdictWord,
    counts: Counter[VerdictWord],
    seen: Counter[VerdictWord],
    conditional: int,
) -> str:
    """One sentence about the requirements, never about the door's safety.

    Tested is what conforms or does not, as `counts` has it; of that it says how much the facts
    of the opening answered without anybody looking.
    """
    tested = sum(map(counts.__getitem__, _TESTED))
    failed = counts[VerdictWord.DOES_NOT_CONFORM]
    match worst:
        case VerdictWord.CONFORMS:
            text = f"The opening conforms to the requirements tested ({tested})"
        case VerdictWord.DOES_NOT_CONFORM:
            of_all = (
                "the 1 requirement" if tested == 1 else f"{failed} of the {tested} requirements"
            )
            text = f"The opening does not conform to {of_all} tested"
        case VerdictWord.INCONCLUSIVE:
            text = f"Cannot be judged as a whole; {_were_tested(tested)}"
        case _:
            text = f"Not tested as a whole; {_were_tested(tested)}"
    parts = [
        (
            tested - sum(map(seen.__getitem__, _TESTED)),
            "of these by the facts of the opening alone",
        ),
        (counts[VerdictWord.INCONCLUSIVE], "inconclusive"),
        (counts[VerdictWord.NOT_TESTED], "not tested"),
        (conditional, "within the uncertainty of the limit"),
    ]
    more = ", ".join(f"{count} {words}" for count, words in parts if count)
    return f"{text}; {more}." if more else f"{text}."


def _were_tested(count: int) -> str:
    return "1 requirement was tested" if count == 1 else f"{count} requirements were tested"


def _governing(binding: Sequence[Verdict]) -> list[dict[str, str]]:
    """For each measured quantity the requirement that governs it: the worst verdict, and among
    equals the smallest margin, then the first id.
    """
    measured: dict[str, list[tuple[int, Fraction, str]]] = {}
    for verdict in binding:
        spec, outcome = verdict.item.spec, verdict.outcome
        if isinstance(spec, LimitSpec) and outcome.margin is not None:
            rank = -badness(outcome.verdict), Fraction(*outcome.margin)
            name = verdict.item.resolved.requirement.id
            measured.setdefault(spec.quantity, []).append((*rank, name))
    return [
        {"quantity": quantity, "requirement": min(found)[-1]}
        for quantity, found in sorted(measured.items())
    ]
