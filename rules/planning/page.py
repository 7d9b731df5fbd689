"""The form of a visit as a page that a person reads at the door."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rules.pages import cited, listed, page, section, wrapped
from rules.planning.cautions import MOMENTS
from rules.planning.items import Asked
from rules.waiting import in_plain_words
from rules.wording import CUSTOM, span_in_words

Part = Mapping[str, Any]

_ASKED = {
    Asked.REQUIRED: "required",
    Asked.WHERE_REPAIRED: "asked where it hangs on what was repaired",
    Asked.PER_DOOR: "asked by the door's own instructions",
    Asked.ADVISORY: "advisory: nobody is bound to it",
}
_NOT_READ = "Not read: the governing edition may ask more than stands here"
_HEADINGS = dict(zip(MOMENTS, ("Before you begin", "While you work", "Afterwards"), strict=True))


def explain_plan(plan: Part) -> str:
    """The page of a plan, in the order in which the visit goes."""
    return page(
        [
            f"{plan['activity'].replace('_', ' ')} on {plan['on']}, {plan['jurisdiction']}",
            *_heeded(plan["cautions"], "before", "while"),
            *section("Look at", map(_group, plan["look_at"])),
            *section("Measure", map(_quantity, plan["measure"])),
            *section("Run, in this order", map(_sequence, plan["sequences"])),
            *_heeded(plan["cautions"], "after"),
            *section("Write down", map(_record, plan["record"])),
            *section("Who may do it", map(_qualified, plan["qualifications"])),
            *listed("May stay not tested, with a reason", _left(plan["may_stay_untested"])),
            *listed("To know what applies, tell us", _unknown(plan["missing_facts"])),
            *listed("Applies, but this activity does not ask for it", plan["not_asked"]),
            *section(
                "Not read: the governing edition may ask more", map(_unread, plan["not_read"])
            ),
        ],
        f"requirements {plan['library']['requirements_digest']}, "
        f"library {plan['library']['version']}",
    )


def _heeded(cautions: Sequence[Part], *moments: str) -> Iterator[str]:
    for moment in moments:
        said = [one for one in cautions if one["moment"] == moment]
        blocks = [
            [*wrapped(one["words"], 2), *wrapped(f"When: {one['applies_when']}", 4)] for one in said
        ]
        yield from section(_HEADINGS[moment], blocks)


def _group(group: Part) -> list[str]:
    lines = wrapped(group["group"].capitalize(), 2)
    for check in group["checks"]:
        lines += wrapped(f"[ ] {' / '.join(check['asks'])} ({_ASKED[Asked(check['asked'])]})", 4)
        lines += _sources(check["requirements"], 8)
    return lines


def _quantity(one: Part) -> list[str]:
    head = f"{one['quantity'].replace('_', ' ')}: {one['meaning']}"
    lines = wrapped(f"{head} ({_ASKED[Asked(one['asked'])]})", 2)
    if one["repeats"] > 1:
        lines += wrapped(f"Measure {one['repeats']} times, {CUSTOM}", 4)
    if one["during"]:
        lines += wrapped(f"Taken while running: {one['during'].replace('-', ' ')}", 4)
    for limit in one["limits"]:
        lines += wrapped(f"Limit: {_limit(limit['limit'])}", 4)
        lines += _sources([limit], 6)
    return lines


def _limit(limit: Part) -> str:
    parts = [limit["words"]]
    if "nominal" in limit:
        parts.append(f"usually about {limit['nominal']['value']} {limit['nominal']['unit']}")
    if limit.get("measurement_point"):
        parts.append(f"at: {limit['measurement_point']}")
    if limit.get("method"):
        parts.append(f"how: {limit['method']}")
    if "test_load" in limit:
        parts.append(f"under {limit['test_load']['value']} {limit['test_load']['unit']}")
    return "; ".join(parts)


def _sequence(one: Part) -> list[str]:
    asked = _ASKED[Asked(one["asked"])]
    lines = wrapped(f"{one['order']}. {one['sequence'].replace('-', ' ')} ({asked})", 2)
    lines += wrapped(f"Now, because {one['because']}", 4)
    for caution in one["cautions"]:
        lines += wrapped(f"Caution: {caution}", 4)
    for do in one["do"]:
        lines += wrapped(do, 4)
    for step in one["steps"]:
        lines += wrapped(f"[ ] {step['number']}. {_step(step)}", 6)
    for time in one["times"]:
        quantity = time["quantity"].replace("_", " ")
        lines += wrapped(f"Record: {quantity}, {_limit(time['limit'])}", 6)
    return [*lines, *_sources(one["requirements"], 6)]


def _step(step: Part) -> str:
    words = f"{step['do']} Expect: {step['expect']}" if step["do"] else step["expect"]
    return f"{words} (or not provided)" if step["may_be_not_provided"] else words


def _sources(requirements: Sequence[Part], indent: int) -> list[str]:
    return [
        line
        for one in requirements
        for line in wrapped(f"Source: {cited(one['citation'], one['standing'])}", indent)
    ]


def _record(one: Part) -> list[str]:
    lines = wrapped(f"{one['title']} ({_ASKED[Asked(one['asked'])]})", 2)
    lines += [line for content in one["contents"] for line in wrapped(f"[ ] {content}", 4)]
    if one["retention"]:
        keep, event = span_in_words(one["retention"]["keep"]), one["retention"]["counted_from"]
        lines += wrapped(f"Kept {keep}, counted from the {event.replace('_', ' ')}", 4)
    return [*lines, *_sources([one], 4)]


def _qualified(one: Part) -> list[str]:
    return [*wrapped(f"{one['asks']} ({_ASKED[Asked(one['asked'])]})", 2), *_sources([one], 4)]


def _left(items: Sequence[Part]) -> list[str]:
    return [f"{one['name'].replace('_', ' ')}: {one['because']}" for one in items]


def _unknown(facts: Sequence[str]) -> list[str]:
    return list(map(in_plain_words, facts))


def _unread(gap: Part) -> list[str]:
    return [*wrapped(gap["edition"], 2), *wrapped(gap["title"], 4)]
