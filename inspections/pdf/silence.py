"""What was not tested, and what cannot be told: short, complete, and never among the findings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import SMALL_PART, display, table, together
from inspections.pdf.document.judged import Verdict
from inspections.pdf.rows import Column, Line
from inspections.pdf.words import publication, spoken
from rules.vocabulary import VerdictWord

_COLUMNS = (Column("Asked by", 13), Column("Why", 10), Column("Items", 21))
_MISSING = "fact_missing: "
_REQUIRED = "Required at this visit and not tested"
_OTHERS = "Not tested, and not required at this visit"
_UNKNOWN = "Cannot be told whether it applies, for want of a fact of the opening"


def is_silent(verdict: Verdict) -> bool:
    """Whether nothing was found that could be judged: no reading, no look, or no known fact."""
    return verdict.verdict is VerdictWord.NOT_TESTED or _lacks_fact(verdict)


def silent_tables(verdicts: Sequence[Verdict], width: float) -> Iterator[Flowable]:
    """Every binding requirement that says nothing yet, gathered by the publication that asks."""
    silent = [verdict for verdict in verdicts if is_silent(verdict)]
    unknown = [verdict for verdict in silent if _lacks_fact(verdict)]
    untested = [verdict for verdict in silent if not _lacks_fact(verdict)]
    for title, items in (
        (_REQUIRED, [verdict for verdict in untested if verdict.required]),
        (_OTHERS, [verdict for verdict in untested if not verdict.required]),
        (_UNKNOWN, unknown),
    ):
        if items:
            lines = _gathered(items)
            yield from together(
                display(title, width, SMALL_PART), table(_COLUMNS, lines, width, "")
            )


def _lacks_fact(verdict: Verdict) -> bool:
    return (verdict.reason or "").startswith(_MISSING)


def _gathered(verdicts: Sequence[Verdict]) -> list[Line]:
    """One line for each publication and reason, naming its items with their clauses."""
    items: dict[tuple[str, str], list[str]] = {}
    for verdict in verdicts:
        clause = f" ({verdict.citation.clause})" if verdict.citation.clause else ""
        said = items.setdefault((publication(verdict), _why(verdict)), [])
        said.append(f"{verdict.title}{clause}")
    return [Line([asked, why, "\n".join(said)]) for (asked, why), said in items.items()]


def _why(verdict: Verdict) -> str:
    """Why nothing is said: in the words of the rules library, or shorter where they are long."""
    reason = verdict.reason or ""
    if reason == "not_recorded":
        return "not recorded"
    if reason.startswith(_MISSING):
        return f"missing: {spoken(reason.removeprefix(_MISSING))}"
    return verdict.message or spoken(reason)
