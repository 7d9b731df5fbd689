"""What was read, looked at and observed on a visit, each with its verdict and its source."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from reportlab.platypus.flowables import Flowable

from inspections.pdf.blocks import SMALL_PART, display, table, together
from inspections.pdf.document.judged import Limit, Verdict
from inspections.pdf.document.visits import Reading, Visit
from inspections.pdf.lines import para
from inspections.pdf.observations import check_table, sequence_table
from inspections.pdf.rows import Column, Line
from inspections.pdf.silence import is_silent, silent_tables
from inspections.pdf.verdicts import Judged, verdict_table
from inspections.pdf.words import (
    amount,
    joined,
    limit_words,
    plain,
    quantity_words,
    read_value,
)

_LIMITS = (
    Column("Quantity", 9),
    Column("Limit", 7),
    Column("Reading, as sent", 7),
    Column("Margin", 5),
)
_ITEMS = (Column("Requirement", 25),)
_SENT = (Column("As sent", 14), Column("Values, in the order taken", 18), Column("With", 12))
_ADVISORY = "Advisory: adopted by nobody here, binds nobody, not in the summary"


def judgement_blocks(visit: Visit, width: float) -> Iterator[Flowable]:
    """Binding verdicts by kind, then what was not tested, then what is advisory, apart."""
    told = [verdict for verdict in visit.verdicts if not is_silent(verdict)]
    limits = [_limit(verdict) for verdict in _of(told, "limit")]
    yield from verdict_table("Readings", _LIMITS, limits, width, "No reading was judged.")
    yield from _as_sent(visit.readings, width)
    yield from check_table(_of(told, "check"), visit, width)
    yield from sequence_table(_of(told, "sequence"), visit, width)
    others = [_item(v) for v in told if v.kind not in {"limit", "check", "sequence"}]
    if others:
        yield from verdict_table("Other requirements", _ITEMS, others, width, "")
    yield from silent_tables(visit.verdicts, width)
    yield from _advisory(visit.advisory, width)


def _advisory(verdicts: Sequence[Verdict], width: float) -> Iterator[Flowable]:
    told = [_item(verdict) for verdict in verdicts if not is_silent(verdict)]
    silent = [verdict.title for verdict in verdicts if is_silent(verdict)]
    if told:
        yield from verdict_table(_ADVISORY, _ITEMS, told, width, "")
    elif silent:
        yield from together(display(_ADVISORY, width, SMALL_PART), para("None was tested."))
    if silent:
        yield para(f"Advisory and not tested: {'; '.join(silent)}.")


def _of(verdicts: Sequence[Verdict], kind: str) -> list[Verdict]:
    return [verdict for verdict in verdicts if verdict.kind == kind]


def _limit(verdict: Verdict) -> Judged:
    texts = (
        verdict.title,
        limit_words(verdict.limit),
        _governing(verdict.reading),
        amount(verdict.margin),
    )
    return Judged(texts, verdict, _where(verdict.limit))


def _where(limit: Limit | None) -> str:
    """Where and how the requirement asks for the quantity to be measured."""
    said = joined([limit.measurement_point, limit.method], "; ") if limit else ""
    return f"Measured at: {said}." if said else ""


def _governing(reading: Mapping[str, object] | None) -> str:
    """The reading that decided, as sent, with its uncertainty."""
    if not reading or reading.get("value") is None:
        return "none"
    unit = str(reading.get("unit", ""))
    uncertainty = reading.get("uncertainty")
    spread = f"± {uncertainty} {unit} (k = 2)" if uncertainty is not None else ""
    return joined([f"{reading['value']} {unit}", spread], "\n")


def _as_sent(readings: Sequence[Reading], width: float) -> Iterator[Flowable]:
    """All values of each quantity, not the governing one alone."""
    by_quantity: dict[str, list[Reading]] = {}
    for reading in readings:
        by_quantity.setdefault(reading.quantity, []).append(reading)
    lines = [
        Line(
            [
                quantity_words(quantity),
                "; ".join(_value(reading) for reading in taken),
                joined(dict.fromkeys(_instrument(reading) for reading in taken), "; "),
            ]
        )
        for quantity, taken in by_quantity.items()
    ]
    if lines:
        yield table(_SENT, lines, width, "")


def _value(reading: Reading) -> str:
    remarks = f" ({reading.remarks})" if reading.remarks else ""
    return f"{read_value(reading)}{remarks}"


def _instrument(reading: Reading) -> str:
    return plain(reading.instrument) if reading.instrument else ""


def _item(verdict: Verdict) -> Judged:
    if verdict.kind != "limit":
        return Judged((verdict.title,), verdict)
    read = f"reading {_governing(verdict.reading)}".replace("\n", " ")
    margin = f"margin {amount(verdict.margin)}" if verdict.margin else ""
    said = joined([limit_words(verdict.limit), read, margin], ", ")
    return Judged((f"{verdict.title}\n{said}",), verdict)
