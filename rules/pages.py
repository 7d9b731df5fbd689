"""What every page for a person is set with: headings, lines, sources, the caution at its end."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from textwrap import TextWrapper

from rules.vocabulary import Standing

WIDTH = 96
CAUTION = (
    "This page speaks of requirements and of what was tested, not of the door as a whole. Local "
    "code, the authority having jurisdiction and licensed practice decide."
)
STANDINGS = {
    Standing.VERIFIED: "read in the publisher's or the government's own text",
    Standing.SECONDARY: "read in a secondary source, not in the publisher's own text",
    Standing.FROM_MEMORY: "from memory, not read; advisory until somebody adopts it",
    Standing.COMMON_PRACTICE: "custom of the trade, no source; advisory until somebody adopts it",
}


def page(lines: Iterable[str], digest: str) -> str:
    """The lines, what the page does not say, and what it was made of."""
    return "\n".join([*lines, "", *wrapped(CAUTION), "", digest, ""])


def wrapped(text: str, indent: int = 0) -> list[str]:
    """A text in lines of the page's width; an empty one is an empty line."""
    space = " " * indent
    wrapper = TextWrapper(WIDTH, initial_indent=space, subsequent_indent=space)
    return wrapper.wrap(text) or [""]


def section(heading: str, blocks: Iterable[list[str]]) -> list[str]:
    """Blocks under a heading, parted by an empty line; nothing where there are none."""
    lines = [line for block in blocks for line in ["", *block]]
    return ["", heading, "-" * len(heading), *lines[1:]] if lines else []


def listed(heading: str, names: list[str]) -> list[str]:
    """One line for each name under a heading; nothing where there are none."""
    lines = [line for name in names for line in wrapped(name, 2)]
    return section(heading, [lines] if lines else [])


def cited(citation: Mapping[str, str], standing: str = "") -> str:
    """A source in one line, and how well it is known."""
    parts = [citation[key] for key in ("publication", "edition", "clause") if citation.get(key)]
    note = f" ({citation['note']})" if citation.get("note") else ""
    known = f"; {STANDINGS[Standing(standing)]}" if standing else ""
    return f"{', '.join(parts)}{note}{known}"
