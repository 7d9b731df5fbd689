"""What the binding verdicts of one visit come to, in words that say no more than was tested."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from rules.judging.findings import Findings
from rules.judging.outcome import badness
from rules.judging.verdicts import Verdict
from rules.model import LimitSpec, PermissionSpec
from rules.vocabulary import Band, DecisionRule, VerdictWord

_CONFORMING = badness(VerdictWord.CONFORMS)


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
    worst = _worst(binding, conditional, findings.rule)
    tested = [v for v in binding if _tested(v)]
    return {
        "verdict": worst.value,
        "says": _says(worst, counts, len(tested), conditional),
        "counts": {word.value: counts[word] for word in VerdictWord},
        "conditional": conditional,
        "complete": any(v.required or _looked_at(v) for v in binding)
        and all(map(_settled, binding)),
        "untested": [
            verdict.item.resolved.requirement.id
            for verdict in binding
            if verdict.outcome.verdict is VerdictWord.NOT_TESTED or _waved_away(verdict)
        ],
        "governing": _governing(binding),
        "not_asked": list(not_asked),
        "missing_facts": sorted({fact for v in binding for fact in v.outcome.missing_facts}),
    }


def _conditional(verdict: Verdict) -> bool:
    return verdict.outcome.details.get("band") == Band.CONDITIONAL


def _asked(verdict: Verdict) -> bool:
    return verdict.required or _looked_at(verdict)


def _settled(verdict: Verdict) -> bool:
    return verdict.settled or not verdict.required


def _waved_away(verdict: Verdict) -> bool:
    """Said not to apply, where the facts say that it does and the activity asks for it."""
    return verdict.outcome.verdict is VerdictWord.NOT_APPLICABLE and not _settled(verdict)


def _looked_at(verdict: Verdict) -> bool:
    """Whether a person looked; a permission is answered by the facts, and nobody tests it."""
    idle = {VerdictWord.NOT_APPLICABLE, VerdictWord.NOT_TESTED}
    by_facts = isinstance(verdict.item.spec, PermissionSpec)
    seen = verdict.outcome.looked_at and not by_facts
    return seen and verdict.outcome.verdict not in idle


def _tested(verdict: Verdict) -> bool:
    words = {VerdictWord.CONFORMS, VerdictWord.DOES_NOT_CONFORM}
    return _looked_at(verdict) and verdict.outcome.verdict in words


def _worst(binding: Sequence[Verdict], conditional: int, rule: DecisionRule) -> VerdictWord:
    """The worst word; nothing conforms where nobody tested anything, nor by being waved away."""
    words = {v.outcome.verdict for v in binding if _looked_at(v)}
    words |= {v.outcome.verdict for v in binding if badness(v.outcome.verdict) > _CONFORMING}
    if not words or any(map(_waved_away, binding)):
        words.add(VerdictWord.NOT_TESTED)
    if conditional and rule is DecisionRule.GUARDED:
        words.add(VerdictWord.INCONCLUSIVE)
    return max(words, key=badness)


def _says(worst: VerdictWord, counts: Counter[VerdictWord], tested: int, conditional: int) -> str:
    """One sentence about the requirements, never about the door's safety."""
    open_ones = counts[VerdictWord.INCONCLUSIVE], counts[VerdictWord.NOT_TESTED]
    match worst:
        case VerdictWord.CONFORMS:
            text = f"The opening conforms to the requirements tested ({tested})"
        case VerdictWord.DOES_NOT_CONFORM:
            failed = counts[VerdictWord.DOES_NOT_CONFORM]
            text = f"The opening does not conform to {failed} of the {tested} requirements tested"
        case VerdictWord.INCONCLUSIVE:
            text = f"Cannot be judged as a whole; {tested} requirements were tested"
        case _:
            text = f"Not tested as a whole; {tested} requirements were tested"
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
