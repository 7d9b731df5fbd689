"""How values are said in print: the words of the vocabulary, dates, amounts, citations."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from inspections.pdf.document.judged import Amount, Citation, Limit, Verdict
from inspections.pdf.document.visits import Reading
from rules.measurands import MEASURANDS
from rules.vocabulary import Comparator, Standing, VerdictWord

_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")

VERDICTS = {
    VerdictWord.CONFORMS: "conforms",
    VerdictWord.DOES_NOT_CONFORM: "does not conform",
    VerdictWord.INCONCLUSIVE: "inconclusive",
    VerdictWord.NOT_TESTED: "not tested",
    VerdictWord.NOT_APPLICABLE: "not applicable",
}

STANDINGS = {
    Standing.VERIFIED: "",  # read at the source: nothing to warn of
    Standing.SECONDARY: "secondary",
    Standing.FROM_MEMORY: "from memory",
    Standing.COMMON_PRACTICE: "common practice",
}


def spoken(name: str) -> str:
    """A machine word in words: `periodic_inspection` is `periodic inspection`."""
    return name.replace("_", " ")


def sentence_case(text: str) -> str:
    """The text with a capital at its beginning."""
    return text[:1].upper() + text[1:]


def quantity_words(name: str) -> str:
    """A measured quantity in plain words."""
    known = MEASURANDS.get(name)
    return sentence_case(known.meaning if known else spoken(name))


def moment(text: str) -> str:
    """A date and time as a person reads it, nothing converted: `2026-03-02 10:15:00 -06:00`."""
    day, _, time = text.partition("T")
    if time.endswith("Z"):
        return f"{day} {time[:-1]} UTC"
    for sign in "+-":
        clock, found, offset = time.rpartition(sign)
        if found:
            return f"{day} {clock} {sign}{offset}"
    return text


def amount(value: Amount | None) -> str:
    """A value with its unit."""
    return f"{value.value} {value.unit}" if value else ""


def read_value(reading: Reading) -> str:
    """A reading as sent: its value, or what stands in its place and why."""
    if reading.value is None:
        return joined([VERDICTS[reading.result] if reading.result else "", reading.reason], ": ")
    spread = f" ± {reading.uncertainty}" if reading.uncertainty is not None else ""
    return f"{reading.value}{spread} {reading.unit or ''}".rstrip()


def limit_words(limit: Limit | None) -> str:
    """A limit in the published unit, and the SI value its publisher prints beside it."""
    if limit is None or (limit.low is None and limit.high is None):
        return (limit and limit.worked_out) or "to come from the door's listed instructions"
    if limit.comparator == Comparator.BETWEEN:
        said = f"{limit.low} to {limit.high} {limit.unit}"
    elif limit.comparator == Comparator.AT_LEAST:
        said = f"at least {limit.low} {limit.unit}"
    else:
        said = f"at most {limit.high} {limit.unit}"
    beside = [limit.worked_out, limit.printed_si and f"printed {limit.printed_si}"]
    return "".join([said, *(f" ({words})" for words in beside if words)])


_UNNAMED = {"undated", "none"}  # a habit of the trade has neither edition nor clause


def citation(source: Citation) -> str:
    """Publication, edition and clause, where it has them. The rest stands in the list."""
    named = [source.publication, source.edition, source.clause]
    return joined([part for part in named if part not in _UNNAMED], ", ")


def publication(verdict: Verdict) -> str:
    """The publication and edition that ask for something, and how it came to apply here."""
    named = joined([verdict.citation.publication, verdict.citation.edition], ", ")
    return f"{named}\n{_applied(verdict)}"


def source(verdict: Verdict) -> str:
    """Where a requirement is written, the layer that set it, and how well it is known."""
    return f"{citation(verdict.citation)}\n{_applied(verdict)}"


def full_stop(text: str) -> str:
    """The text as a sentence, ended where its writer did not."""
    return text if not text or text[-1] in ".!?" else f"{text}."


def joined(parts: Iterable[str | None], by: str) -> str:
    """The parts that say something."""
    return by.join(part for part in parts if part)


def plain(value: object) -> str:
    """Any value of an open mapping in words."""
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        if {"value", "unit"} <= value.keys():
            return _with_unit(value)
        return joined((f"{spoken(str(key))}: {plain(part)}" for key, part in value.items()), "; ")
    if isinstance(value, list):
        nested = any(isinstance(part, Mapping) for part in value)
        return joined((plain(part) for part in value), "\n" if nested else ", ") or "none"
    text = str(value)
    return moment(text) if _INSTANT.match(text) else text


def grouped(digest: str) -> list[str]:
    """A digest in groups of four, to be compared by eye or read aloud."""
    return [digest[start : start + 4] for start in range(0, len(digest), 4)]


def _applied(verdict: Verdict) -> str:
    reference = "reference" if verdict.adoption == "not_recorded" else ""
    edition = verdict.applied_edition
    carried = f"as of edition {edition}" if edition and edition != verdict.citation.edition else ""
    known = STANDINGS[Standing(verdict.standing)]
    return joined([carried, f"layer {verdict.layer}", reference, known], ", ")


def _with_unit(value: Mapping[str, object]) -> str:
    rest = {key: part for key, part in value.items() if key not in {"value", "unit"}}
    said = f"{value['value']} {value['unit']}"
    return f"{said} ({plain(rest)})" if rest else said
