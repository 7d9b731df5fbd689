"""How every page looks: paper, typefaces, sizes, greys. What is said stands elsewhere."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

# Nothing a person wrote may make the renderer fetch anything, whatever gets past the escaping.
rl_config.trustedSchemes = []
rl_config.trustedHosts = []
rl_config.useA85 = 0  # streams stay binary: a fifth smaller

_FONTS = Path(__file__).parent / "fonts"
_LETTER_COUNTRIES = frozenset({"us", "ca"})

SIDE, HEAD, FOOT = 50.0, 62.0, 52.0  # margins, in points as every length here
INK, SOFT, HAIR = 0.0, 0.36, 0.72  # greys: text, labels, rules between rows

SMALL, TABLE, BODY = 7.2, 8.2, 8.8  # sizes of type
SUBHEADING, HEADING, TITLE = 10.5, 14.0, 22.0
LEADING = 1.28  # of a line, as a multiple of the size


class Face:
    """A typeface with the width of each character it has, in thousandths of the size."""

    def __init__(self, name: str, file: str) -> None:
        font = TTFont(name, _FONTS / file)
        pdfmetrics.registerFont(font)
        self.name = name
        self.characters: dict[int, int] = font.face.charToGlyph
        self._widths = _Widths(font.face.charWidths, font.face.defaultWidth)

    def width(self, text: str, size: float) -> float:
        """The width of a text in points; reportlab sets no kerning, so this is exact."""
        return sum(map(self._widths.__getitem__, text)) * size / 1000


class _Widths(dict[str, float]):
    def __init__(self, by_code: dict[int, float], default: float) -> None:
        super().__init__({chr(code): width for code, width in by_code.items()})
        self._default = default

    def __missing__(self, character: str) -> float:
        return self._default


@cache
def regular() -> Face:
    """The typeface of text."""
    return Face("Roboto", "Roboto-Regular.ttf")


@cache
def bold() -> Face:
    """The typeface of headings, and of what does not conform."""
    return Face("Roboto-Bold", "Roboto-Bold.ttf")


def face(*, strong: bool) -> Face:
    """One of the two."""
    return bold() if strong else regular()


def paper(jurisdiction: str) -> tuple[float, float]:
    """Width and height of the paper that the place's printers hold."""
    return LETTER if jurisdiction.partition("-")[0].lower() in _LETTER_COUNTRIES else A4


@cache
def prose() -> ParagraphStyle:
    """The style of running text."""
    return ParagraphStyle(
        "prose",
        fontName=regular().name,
        fontSize=BODY,
        leading=BODY * 1.4,
        splitLongWords=1,
        spaceAfter=3,
    )
