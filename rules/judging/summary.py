"""What the binding verdicts of one visit come to, in words that say no more than was tested."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from rules.judging.findings import Findings
from rules.judging.outcome import badness
from rules.judging.verdicts import Verdict
from rules.model import LimitSpec
from rules.vocabulary import Band, DecisionRule, VerdictWord


def summarize(
    binding: Sequence[Verdict], not_asked: Sequence[str], findings: Findings
) -> dict[str, object]:
    """The worst of the binding verdicts with what stands behind it.

    `complete` is true where every required item was looked at, whatever was found. `not_asked`
    are the requirements that apply but that this activity does not ask for and nobody looked at;
    `missing_facts` are the facts of the opening that would settle what is inconclusive for want
    of them.
    """
    counts = Counter(verdict.outcome.verdict for verdict in binding)
    conditional = sum(_conditional(verdict) for verdict in binding)
    worst = _worst(counts, conditional, findings.rule)
    return {
        "verdict": worst.value,
        "says": _says(worst, counts, conditional),
        "counts": {word.value: counts[word] for word in VerdictWord},
        "conditional": conditional,
        "complete": all(verdict.settled for verdict in binding if verdict.required),
        "untested": [
            verdict.item.resolved.requirement.id
            for verdict in binding
            if verdict.outcome.verdict is VerdictWord.NOT_TESTED
        ],
        "governing": _governing(binding),
        "not_asked": list(not_asked),
        "missing_facts": sorted({fact for v in binding for fact in v.outcome.missing_facts}),
    }


def _conditional(verdict: Verdict) -> bool:
    return verdict.outcome.details.get("band") == Band.CONDITIONAL


def _worst(counts: Counter[VerdictWord], conditional: int, rule: DecisionRule) -> VerdictWord:
    words = set(counts)
    if conditional and rule is DecisionRule.GUARDED:
        words.add(VerdictWord.INCONCLUSIVE)
    return max(words, key=badness, default=VerdictWord.NOT_TESTED)


def _says(worst: VerdictWord, counts: Counter[VerdictWord], conditional: int) -> str:
    """One sentence about the requirements, never about the door's safety."""
    tested = counts[VerdictWord.CONFORMS] + counts[VerdictWord.DOES_NOT_CONFORM]
    open_ones = counts[VerdictWord.INCONCLUSIVE], counts[VerdictWord.NOT_TESTED]
    match worst:
        case VerdictWord.CONFORMS:
            text = f"The opening conforms to the requirements tested ({tested})"
        case VerdictWord.DOES_NOT_CONFORM:
            failed = counts[VerdictWord.DOES_NOT_CONFORM]
            text = f"The opening does not conform to {failed} of the {tested} requirements tested"
        case VerdictWord.INCONCLUSIVE:
            text = f"Cannot be judged as a whole; {tested} requirements were tested"
        case VerdictWord.NOT_TESTED:
            text = f"Not tested as a whole; {tested} requirements were tested"
        case _:
            text = "Nothing was tested; every requirement was said not to apply"
    words = ("inconclusive", "not tested")
    parts = [f"{count} {word}" for count, word in zip(open_ones, words, strict=True) if count]
    if conditional:
        parts.append(f"{conditional} within the uncertainty of the limit")
    return f"{'; '.join([text, ', '.join(parts)] if parts else [text])}."


def _governing(binding: Sequence[Verdict]) -> list[dict[str, str]]:
    """For each measured quantity the requirement that governs it: the worst verdict, and among
    equals the smallest margin, then the first id.
    """
    measured: dict[str, list[Verdict]] = {}
    for verdict in binding:
        spec = verdict.item.spec
        if isinstance(spec, LimitSpec) and verdict.outcome.margin is not None:
            measured.setdefault(spec.quantity, []).append(verdict)
    return [
        {"quantity": name, "requirement": _strictest(found).item.resolved.requirement.id}
        for name, found in sorted(measured.items())
    ]


def _strictest(found: list[Verdict]) -> Verdict:
    return found[0] if len(found) == 1 else min(found, key=_rank)


def _rank(verdict: Verdict) -> tuple[int, Fraction]:
    return -badness(verdict.outcome.verdict), Fraction(*(verdict.outcome.margin or (0, 1)))
