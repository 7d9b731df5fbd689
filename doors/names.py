"""Which characters may stand in a name, wherever it comes from."""

from __future__ import annotations

import re
import unicodedata
from typing import Literal

Fault = Literal["control_character", "direction_control", "invisible_character", "outer_space"]

# Letters that draw nothing: with one of them two names that look alike are two names. The
# category Cf holds the others (joiners, soft hyphens, tags).
_FILLERS = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0")
# Bidirectional controls make a name read as another one.
_BIDI = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")

_INVENTED = re.compile(
    r"[@.](?:example|test|invalid|localhost|example\.(?:com|net|org))$", re.ASCII
)


def normal(text: str) -> str:
    """The text in Unicode's normal form C."""
    return unicodedata.normalize("NFC", text)


def fault_in_name(text: str) -> Fault | None:
    """What is wrong with a name that is not empty, if anything; spaces at its ends are."""
    categories = [unicodedata.category(each) for each in text]
    if "Cc" in categories:
        return "control_character"
    if _BIDI.search(text):
        return "direction_control"
    if _FILLERS & set(text) or {"Cf", "Zl", "Zp"} & set(categories):
        return "invisible_character"
    return "outer_space" if text != text.strip() else None


def is_invented(address: str) -> bool:
    """Whether a mail address can be nobody's: of a domain kept for examples (RFC 2606, 6761)."""
    return bool(_INVENTED.search(address.lower()))


def fault_in_prose(text: str) -> Fault | None:
    """What is wrong with free text of several lines; tabs, line ends and directions may stand."""
    wrong = any(unicodedata.category(each) == "Cc" and each not in "\t\n\r" for each in text)
    return "control_character" if wrong else None
