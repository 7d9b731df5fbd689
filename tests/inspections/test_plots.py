"""Plots: the geometry is right, nothing is lost, and both drawers draw the same."""

from __future__ import annotations

import io
from datetime import date
from typing import Any

import pypdf
import pytest
from defusedxml.ElementTree import fromstring
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas

from inspections.plots import PlotError, render_series_svg, render_trace_svg
from inspections.plots.axes import axis, date_axis
from inspections.plots.canvas import draw
from inspections.plots.characters import Marks, mark
from inspections.plots.curves import series_picture, trace_picture
from inspections.plots.picture import CURVE, LIMIT, MARK, TREND, Dot, Label, Line, Picture
from inspections.plots.traces import LimitLine, Mark, Point, Series, Trace

SVG = "{http://www.w3.org/2000/svg}"


def travel(**changes: Any) -> dict[str, Any]:
    """Return a door that starts after 1 s and travels 100 in at 20 in/s."""
    base: dict[str, Any] = {
        "kind": "travel",
        "unit": "in",
        "t": ["0", "1", "6", "7"],
        "values": ["0", "0", "100", "100"],
        "marks": [{"t": "1", "words": "starts"}, {"t": "6", "words": "strike engages"}],
        "limits": [{"words": "slowest", "value": "10", "unit": "in/s", "from_t": "1"}],
    }
    return base | changes


def force(**changes: Any) -> dict[str, Any]:
    """Return a pull that peaks at 31.5 lbf."""
    base: dict[str, Any] = {
        "kind": "force",
        "unit": "lbf",
        "t": ["0", "0.5", "1", "2"],
        "values": ["0", "31.5", "12", "12"],
        "limits": [{"words": "set in motion", "value": "133.4", "unit": "N"}],
    }
    return base | changes


def series(**changes: Any) -> dict[str, Any]:
    """Return three readings over two years with a limit and a trend."""
    base: dict[str, Any] = {
        "quantity": "set_in_motion_force",
        "title": "Force to set the door in motion",
        "unit": "lbf",
        "points": [
            {"on": "2024-02-29", "value": "20"},
            {"on": "2025-03-01", "value": "24"},
            {"on": "2026-03-01", "value": "28"},
        ],
        "limits": [{"words": "at most 30 lbf", "value": "30", "unit": "lbf"}],
        "trend": [{"on": "2024-02-29", "value": "20"}, {"on": "2026-03-01", "value": "28"}],
    }
    return base | changes


def picture_of(content: dict[str, Any]) -> Picture:
    """Return the picture of a trace in a square that makes numbers easy."""
    typed = Trace(
        kind=content["kind"],
        unit=content["unit"],
        t=content["t"],
        values=content["values"],
        marks=[Mark(**item) for item in content.get("marks", [])],
        limits=[LimitLine(**item) for item in content.get("limits", [])],
    )
    return trace_picture(typed, width=458, height=255)


def lines(picture: Picture, pen: object) -> list[Line]:
    """Return the lines drawn with one pen."""
    return [shape for shape in picture.shapes if isinstance(shape, Line) and shape.pen == pen]


def labels(picture: Picture) -> list[str]:
    """Return every text of a picture, in order."""
    return [shape.text for shape in picture.shapes if isinstance(shape, Label)]


def figure_at(picture: Picture, text: str) -> tuple[float, float]:
    """Return the place of the first label with that text."""
    return next(s.at for s in picture.shapes if isinstance(s, Label) and s.text == text)


def test_samples_stand_where_the_axes_say() -> None:
    """A sample at a tick of both axes lies where both ticks lead."""
    curve = lines(picture_of(travel()), CURVE)[0]
    # 458 - 40 - 18 = 400 wide over 0..7 s; 255 - 30 - 25 = 200 high over 0..100 in
    assert curve.points[0] == (40.0, 25.0)
    assert curve.points[-2] == pytest.approx((40 + 400 * 6 / 7, 225.0), abs=0.01)


def test_a_speed_limit_is_a_slope_from_the_start_of_travel() -> None:
    """10 in/s from 1 s on reaches 60 in at 7 s, the end of the plot."""
    slope = lines(picture_of(travel()), LIMIT)[0]
    assert slope.points[0] == pytest.approx((40 + 400 / 7, 25.0), abs=0.01)
    assert slope.points[1] == pytest.approx((440.0, 25 + 200 * 0.6), abs=0.01)


def test_a_slope_ends_where_it_leaves_the_plot() -> None:
    """50 in/s from 1 s on meets the top, 100 in, at 3 s."""
    fast = [{"words": "fastest", "value": "50", "unit": "in/s", "from_t": "1"}]
    slope = lines(picture_of(travel(limits=fast)), LIMIT)[0]
    assert slope.points[1] == pytest.approx((40 + 400 * 3 / 7, 225.0), abs=0.01)


def test_a_slope_follows_a_falling_position() -> None:
    """Where the position counts down, a speed limit falls with it."""
    falling = travel(values=["100", "100", "0", "0"])
    slope = lines(picture_of(falling), LIMIT)[0]
    assert slope.points[1][1] < slope.points[0][1]


def test_a_speed_limit_is_converted_to_the_unit_of_the_trace() -> None:
    """0.254 m/s over a travel in inches is the slope of 10 in/s."""
    metric = [{"words": "slowest", "value": "0.254", "unit": "m/s", "from_t": "1"}]
    same = lines(picture_of(travel()), LIMIT)[0]
    assert lines(picture_of(travel(limits=metric)), LIMIT)[0].points == same.points


def test_a_force_limit_is_a_level_in_the_unit_of_the_trace() -> None:
    """133.4 N over a pull in lbf stands a hair below 30 lbf, and its letter beside it."""
    picture = picture_of(force())
    level = lines(picture, LIMIT)[0]
    assert level.points[0][1] == level.points[1][1]
    thirty = figure_at(picture, "30")[1]
    assert -0.5 < level.points[0][1] - (thirty + 7.0 * 0.35) < 0
    assert "A" in labels(picture)


def test_a_limit_beyond_the_data_is_still_in_the_plot() -> None:
    """A door far inside its limit is drawn with the limit, so that the margin is seen."""
    easy = force(values=["0", "5", "4", "4"])
    picture = picture_of(easy)
    assert lines(picture, LIMIT)[0].points[0][1] <= 255 - 30


def test_marks_are_numbered_in_the_order_given_and_explained() -> None:
    """Each mark has a dotted line at its time and a note with its words."""
    picture = picture_of(travel())
    assert [line.points[0][0] for line in lines(picture, MARK)] == pytest.approx(
        [40 + 400 / 7, 40 + 400 * 6 / 7]
    )
    assert [(n.sign, n.at, n.words) for n in picture.notes] == [
        ("1", "1 s", "starts"),
        ("2", "6 s", "strike engages"),
        ("A", "10 in/s", "slowest"),
    ]


def test_marks_close_together_do_not_print_over_each_other() -> None:
    """Numbers nearer than their width stand one above another."""
    near = [{"t": f"{3 + n / 100}", "words": "x"} for n in range(2)]
    picture = picture_of(travel(marks=near))
    signs = [shape for shape in picture.shapes if isinstance(shape, Label) and shape.bold]
    assert [sign.text for sign in signs[-2:]] == ["1", "2"]
    assert abs(signs[-1].at[1] - signs[-2].at[1]) >= signs[-1].size


def test_samples_out_of_order_are_drawn_in_order_of_time() -> None:
    """A trace sent in any order gives the same curve."""
    shuffled = travel(t=["6", "0", "7", "1"], values=["100", "0", "100", "0"])
    assert lines(picture_of(shuffled), CURVE) == lines(picture_of(travel()), CURVE)


def test_no_peak_is_lost_among_many_samples() -> None:
    """One high sample among 200,000 is in the curve, which stays short."""
    count = 200_000
    values = ["1"] * count
    values[123_456] = "40"
    many = force(t=[f"{n / 1000}" for n in range(count)], values=values, limits=[])
    points = lines(picture_of(many), CURVE)[0].points
    top = max(y for _, y in points)
    assert top == pytest.approx(255 - 30)
    assert len(points) < 4000


def test_noise_about_zero_earns_no_negative_axis() -> None:
    """A sensor that reads -0.05 in at rest leaves the axis starting at 0."""
    noisy = travel(values=["-0.05", "0.02", "100", "100"])
    assert not any(text.startswith("-") for text in labels(picture_of(noisy)))


@given(
    st.lists(st.floats(-1e9, 1e9, allow_nan=False), min_size=1, max_size=20),
    st.integers(2, 10),
)
def test_an_axis_holds_every_value_and_its_ticks_rise(values: list[float], steps: int) -> None:
    """All values lie within the axis, up to the share of a step given to noise."""
    made = axis(values, steps=steps)
    places = [place for place, _ in made.ticks]
    slack = (places[1] - places[0]) * 0.031
    assert made.low - slack <= min(values) <= max(values) <= made.high + slack
    assert places == sorted(set(places))
    assert 2 <= len(places) <= 2 * steps + 3


def test_figures_on_an_axis_tell_neighbours_apart() -> None:
    """No two ticks carry the same text, at any size."""
    for low, high in ((0, 0.003), (0, 1), (26.9, 27.31), (0, 3e9), (1e-9, 2e-9)):
        texts = [text for _, text in axis([low, high], steps=5).ticks]
        assert len(texts) == len(set(texts)), texts


@given(st.lists(st.dates(date(1990, 1, 1), date(2090, 1, 1)), min_size=1, max_size=8))
def test_an_axis_of_dates_holds_them_all_in_few_figures(days: list[date]) -> None:
    """Every date lies between the first and the last tick, and at most eight ticks are written."""
    made = date_axis([float(day.toordinal()) for day in days])
    assert made.low <= min(days).toordinal() <= max(days).toordinal() <= made.high
    assert 2 <= len(made.ticks) <= 8


def test_a_series_shows_each_reading_its_limit_and_its_trend() -> None:
    """Three dots, one level, one straight trend, 29 February included."""
    typed = Series(
        quantity="q",
        title="T",
        unit="lbf",
        points=[Point(**point) for point in series()["points"]],
        limits=[LimitLine(words="w", value="30", unit="lbf")],
        trend=(Point(on="2024-02-29", value="20"), Point(on="2026-03-01", value="28")),
    )
    picture = series_picture(typed, width=458, height=255)
    dots = [shape for shape in picture.shapes if isinstance(shape, Dot)]
    assert len(dots) == 3
    assert lines(picture, TREND)[0].points == (dots[0].at, dots[2].at)
    assert len(lines(picture, LIMIT)) == 1


def test_a_single_reading_is_drawn() -> None:
    """A series of one has an axis of its own."""
    one = series(points=[{"on": "2026-03-01", "value": "28"}], trend=None, limits=[])
    assert "circle" in render_series_svg(one)


def test_svg_is_well_formed_named_and_described() -> None:
    """A page that includes it is well formed, and a reader without pictures gets the words."""
    root = fromstring(render_trace_svg(travel()))
    assert root.get("role") == "img"
    assert root.findtext(f"{SVG}title", "").startswith("Travel")
    description = root.findtext(f"{SVG}desc", "")
    assert "1  1 s: starts" in description
    assert "A  10 in/s: slowest" in description


def test_svg_prints_the_notes_below_the_plot() -> None:
    """What numbers and letters mean can be read in the picture itself."""
    root = fromstring(render_trace_svg(travel()))
    texts = [element.text for element in root.iter(f"{SVG}text")]
    assert "2  6 s: strike engages" in texts
    assert float(root.get("viewBox", "").split()[3]) > 200


@pytest.mark.parametrize(
    "words",
    [
        "<script>alert(1)</script>",
        '"/><image href="http://nowhere.example/x.png"/>',
        "&lt; & ]]> <!-- -->",
        "\x07bell \x1b[31m",
        "שלום \u202eoverride\u202c 中文 Ωμέγα Кириллица",
        "x" * 10_000,
    ],
)
def test_words_in_svg_stay_words(words: str) -> None:
    """Nothing a person wrote becomes an element, an attribute or an unreadable document."""
    svg = render_trace_svg(travel(marks=[{"t": "1", "words": words}]))
    root = fromstring(svg)
    elements = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert elements == {"svg", "title", "desc", "polyline", "text"}
    assert "href" not in {name for element in root.iter() for name in element.attrib}
    shown = "".join(root.findtext(f"{SVG}desc", "").split())
    expected = words.translate(Marks(lambda _: True))
    assert "".join(expected.split()) in shown


def test_both_drawers_write_the_same_texts() -> None:
    """The canvas and the SVG carry the same figures, signs and names of axes."""
    picture = picture_of(travel())
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(picture.width, picture.height), invariant=1)
    draw(picture, canvas, faces=("Helvetica", "Helvetica-Bold"))
    canvas.save()
    printed = pypdf.PdfReader(out).pages[0].extract_text().split("\n")
    root = fromstring(render_trace_svg(travel(), width=458, height=255))
    svg_texts = [element.text for element in root.iter(f"{SVG}text")]
    drawn = [text.strip() for text in printed if text.strip()]
    assert sorted(drawn) == sorted(labels(picture))
    assert svg_texts[: len(drawn)] == labels(picture)


def test_the_canvas_is_left_as_it_was() -> None:
    """Pens and dashes of a plot do not reach what is drawn after it."""
    canvas = Canvas(io.BytesIO(), invariant=1)
    before = canvas.getCurrentPageContent()
    draw(picture_of(force()), canvas, faces=("Helvetica", "Helvetica-Bold"))
    drawn = canvas.getCurrentPageContent().removeprefix(before).split()
    assert (drawn[0], drawn[-1]) == ("q", "Q")
    assert drawn.count("q") == drawn.count("Q") == 1


def test_the_same_trace_gives_the_same_svg() -> None:
    """Two drawings of one trace are the same string."""
    assert render_trace_svg(travel()) == render_trace_svg(travel())


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (travel(t=["0", "1"]), "4 values for 2 times"),
        (travel(t=["0"], values=["0"]), "at least 2 samples"),
        (travel(values=["0", "NaN", "1", "1"]), "/values/1"),
        (travel(t=["0", "inf", "2", "3"]), "/t/1"),
        (travel(values=["0", "1e999", "1", "1"]), "/values/1"),
        (travel(unit="furlong"), "furlong"),
        (travel(limits=[{"words": "w", "value": "9", "unit": "V"}]), "V is no limit"),
        (travel(limits=[{"words": "w", "value": "x", "unit": "in/s"}]), "/limits"),
        (travel(marks=[{"t": "soon", "words": "w"}]), "/marks/0"),
        (travel(colour="red"), "colour"),
        (travel(kind="noise"), "kind"),
    ],
)
def test_what_cannot_be_drawn_is_refused_with_its_place(content: dict[str, Any], why: str) -> None:
    """The refusal names the field and says why."""
    with pytest.raises(PlotError, match=why):
        render_trace_svg(content)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (series(points=[]), "at least one reading"),
        (series(points=[{"on": "29 February", "value": "1"}]), "/points/0/on"),
        (series(points=[{"on": "2025-02-29", "value": "1"}]), "/points/0/on"),
        (series(points=[{"on": "9999-12-31", "value": "1"}]), "9999"),
        (series(points=[{"on": "0001-01-01", "value": "1"}]), "year 1 "),
        (series(points=[{"on": "2026-01-01", "value": "-"}]), "/points/0/value"),
        (series(unit="lbf*furlong"), "furlong"),
    ],
)
def test_a_series_that_cannot_be_drawn_is_refused(content: dict[str, Any], why: str) -> None:
    """The refusal names the field and says why."""
    with pytest.raises(PlotError, match=why):
        render_series_svg(content)


def test_marks_leave_nothing_out() -> None:
    """Every character of a text appears, or its code does."""
    table = Marks(lambda code: code < 0x250)
    text = "a\u202eb\x00c\u4e2dd\ud800e\te\nf"
    assert text.translate(table) == "a[U+202E]b[U+0000]c[U+4E2D]d[U+D800]e\te\nf"
    assert mark(0x1F600) == "[U+1F600]"
