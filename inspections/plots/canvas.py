"""Drawer of a picture on a ReportLab canvas."""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas

from inspections.plots.picture import Dot, Label, Line, Picture


def draw(picture: Picture, canvas: Canvas, *, faces: tuple[str, str]) -> None:
    """Draw the picture with its lower left corner at the origin; leaves the canvas as it was.

    `faces` are the names of the regular and the bold typeface. The notes are not drawn.
    """
    canvas.saveState()
    for shape in picture.shapes:
        if isinstance(shape, Line):
            _line(canvas, shape)
        elif isinstance(shape, Dot):
            canvas.circle(*shape.at, shape.radius, stroke=0, fill=1)
        else:
            _text(canvas, shape, faces)
    canvas.restoreState()


def _line(canvas: Canvas, line: Line) -> None:
    canvas.setLineWidth(line.pen.width)
    canvas.setStrokeGray(line.pen.grey)
    canvas.setDash(list(line.pen.dashes))
    path = canvas.beginPath()
    path.moveTo(*line.points[0])
    for point in line.points[1:]:
        path.lineTo(*point)
    canvas.drawPath(path)


def _text(canvas: Canvas, label: Label, faces: tuple[str, str]) -> None:
    canvas.setFont(faces[label.bold], label.size)
    write = {
        "start": canvas.drawString,
        "middle": canvas.drawCentredString,
        "end": canvas.drawRightString,
    }[label.anchor]
    write(*label.at, label.text)
