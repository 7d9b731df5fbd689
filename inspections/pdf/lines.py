"""Text of people as lines that fit: cleaned, measured, broken; and the one way to a Paragraph.

A Paragraph reads markup, so text reaches one only through `para`, which escapes it.
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_right
from functools import lru_cache
from itertools import accumulate
from xml.sax.saxutils import escape

from reportlab.platypus import Paragraph

from inspections.pdf.theme import Face, face, prose, regular
from inspections.plots.characters import Marks, right_to_left

_NEWLINES = re.compile(r"\r\n?|\x85|\u2028|\u2029")
# What stays on one line: a mark as a whole, a letter with its accents.
_ATOMS = re.compile(r"(?:\[U\+[0-9A-F]{4,6}\]|.)[\u0300-\u036f]*", re.DOTALL)
_KEPT_WIDTHS = 4096  # lines remembered: tags, clauses and units come again on every sheet

_marks = Marks(lambda code: code in regular().characters and not right_to_left(code))


def clean(text: str) -> str:
    """The text as it can be set: composed (NFC), line ends as newlines, the rest marked.

    What the typeface has no shape for, and every control, is marked and never left out.
    """
    composed = unicodedata.normalize("NFC", _NEWLINES.sub("\n", text))
    return composed.translate(_marks).replace("\t", " ")


@lru_cache(maxsize=_KEPT_WIDTHS)
def wrap(text: str, width: float, size: float, *, strong: bool = False) -> tuple[str, ...]:
    """The text in lines no wider than `width`; a word that is wider is broken where it must be."""
    typeface = face(strong=strong)
    cleaned = clean(text)
    if "\n" not in cleaned and typeface.width(cleaned, size) <= width:
        return (cleaned,)
    return tuple(
        line for part in cleaned.split("\n") for line in _filled(part, width, size, typeface)
    )


def shortened(text: str, width: float, size: float, *, strong: bool = False) -> str:
    """One line, ended by … where it is too wide. Only for a text that stands whole elsewhere."""
    line = clean(text).replace("\n", " ")
    typeface = face(strong=strong)
    if typeface.width(line, size) <= width:
        return line
    room = width - typeface.width("…", size)
    return _broken(line, room, size, typeface)[0].rstrip() + "…"


def para(text: str) -> Paragraph:
    """Running text as a Paragraph: no character of it is read as markup."""
    return Paragraph(escape(clean(text)).replace("\n", "<br/>"), prose())


def _filled(part: str, width: float, size: float, typeface: Face) -> list[str]:
    """One paragraph in lines, each as full as its words allow."""
    lines, line, used = [], "", 0.0
    space = typeface.width(" ", size)
    for word in part.split(" "):
        needed = typeface.width(word, size)
        if line and used + space + needed <= width:
            line, used = f"{line} {word}", used + space + needed
            continue
        if line:
            lines.append(line)
        *whole, line = _broken(word, width, size, typeface) if needed > width else (word,)
        lines += whole
        used = typeface.width(line, size)
    return [*lines, line]


def _broken(word: str, width: float, size: float, typeface: Face) -> list[str]:
    """A word in pieces that fit, at least one character each; no mark is torn."""
    atoms = _ATOMS.findall(word)
    ends = list(accumulate(typeface.width(atom, size) for atom in atoms))
    pieces, start, before = [], 0, 0.0
    while start < len(atoms):
        stop = max(bisect_right(ends, before + width), start + 1)
        pieces.append("".join(atoms[start:stop]))
        start, before = stop, ends[stop - 1]
    return pieces
