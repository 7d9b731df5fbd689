"""Drawer of a picture as SVG: a string that stands in a page, readable without its pictures."""

from __future__ import annotations

import textwrap
from xml.etree.ElementTree import Element, SubElement, tostring

from inspections.plots.characters import Marks
from inspections.plots.picture import Dot, Label, Line, Picture

_NAMESPACE = "http://www.w3.org/2000/svg"
_LEADING = 11.0
_NOTE_SIZE = 8.0
_BELOW = 8.0
_MARKS = Marks(lambda _: True)  # a browser has typefaces for every script, and reorders them


def to_svg(picture: Picture) -> str:
    """The picture as an SVG element with title and description, its notes in lines below."""
    notes = [f"{note.sign}  {note.at}: {note.words}".translate(_MARKS) for note in picture.notes]
    lines = _wrapped(notes, picture.width)
    height = picture.height + (_BELOW + _LEADING * len(lines) if lines else 0)
    view = f"0 0 {picture.width:g} {height:g}"
    root = Element("svg", {"xmlns": _NAMESPACE, "viewBox": view, "role": "img"})
    SubElement(root, "title").text = picture.title.translate(_MARKS)
    SubElement(root, "desc").text = "; ".join(notes)
    for shape in picture.shapes:
        _draw(root, shape, picture.height)
    for index, line in enumerate(lines):
        y = picture.height + _BELOW + _LEADING * index
        _text(root, Label((0, -y), line, _NOTE_SIZE), 0)
    return tostring(root, encoding="unicode")


def _wrapped(notes: list[str], width: float) -> list[str]:
    per_line = int(width / (_NOTE_SIZE * 0.55))  # a generous guess: no typeface is at hand
    return [line for note in notes for line in textwrap.wrap(note, max(per_line, 20))]


def _draw(root: Element, shape: Line | Dot | Label, height: float) -> None:
    if isinstance(shape, Line):
        _line(root, shape, height)
    elif isinstance(shape, Dot):
        x, y = shape.at
        size = {"cx": f"{x:g}", "cy": f"{height - y:g}", "r": f"{shape.radius:g}"}
        SubElement(root, "circle", size)
    else:
        _text(root, shape, height)


def _line(root: Element, line: Line, height: float) -> None:
    points = " ".join(f"{round(x, 2):g},{round(height - y, 2):g}" for x, y in line.points)
    style = {"fill": "none", "stroke": _grey(line.pen.grey), "stroke-width": f"{line.pen.width:g}"}
    if line.pen.dashes:
        style["stroke-dasharray"] = " ".join(f"{dash:g}" for dash in line.pen.dashes)
    SubElement(root, "polyline", {"points": points, **style})


def _text(root: Element, label: Label, height: float) -> None:
    x, y = label.at
    style = {"font-family": "sans-serif", "font-size": f"{label.size:g}"}
    if label.anchor != "start":
        style["text-anchor"] = label.anchor
    if label.bold:
        style["font-weight"] = "bold"
    place = {"x": f"{round(x, 2):g}", "y": f"{round(height - y, 2):g}"}
    SubElement(root, "text", {**place, **style}).text = label.text.translate(_MARKS)


def _grey(share: float) -> str:
    return "#" + f"{round(share * 255):02x}" * 3
