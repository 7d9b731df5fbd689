"""W4: mean closing speed against 6 to 24 in/s.

The range is NFPA 80's for automatic-closing doors (rolling doors, chapter 11; horizontal sliding,
1999 edition, 4-4.1), read in secondary sources; the arithmetic is plain division.
"""

from fractions import Fraction

import pytest

from rules.judging import judge
from rules.quantities import rounded
from tests.rules.hand_made import between, found, reading, the_set


@pytest.mark.parametrize(
    ("seconds", "speed", "word", "margin"),
    [
        ("5", "24", "conforms", "0"),
        ("20", "6", "conforms", "0"),
        ("24", "5", "does_not_conform", "-1"),
        ("4.9", "24.489796", "does_not_conform", "-0.489796"),
    ],
)
def test_w4_ten_feet(seconds: str, speed: str, word: str, margin: str) -> None:
    """10.0 ft in 5, 20, 24 and 4.9 s: both ends of the range are inside it."""
    value = rounded(Fraction(120) / Fraction(seconds))
    assert value == speed
    sent = reading("closing_speed", value, "in/s")
    held = the_set(between("closing_speed", "6 in/s", "24 in/s"))
    (answer,) = judge(held, found(sent))["verdicts"]
    assert (answer["verdict"], answer["margin"]) == (word, {"value": margin, "unit": "in/s"})
