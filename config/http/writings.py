"""Longer writings in the examples of bodies: an override, a row of a door's own table of signs."""

from __future__ import annotations

OVERRIDE = """\
[jurisdiction]
code = "us-quillhaven"
parent = "us"
name = "Quillhaven"
kind = "city"
authority = "Quillhaven Fire Office"

[[adopt]]
requirement = "common-practice/quarterly-operation-test"
from = 2101-01-01
standing = "verified"
citation = { publication = "Quillhaven Fire Ordinance", edition = "2026", clause = "7-3" }
"""
SIGN = {
    "heard": ["repeated"],
    "may_mean": "The battery is low.",
    "do_first": ["Call the service firm."],
    "citation": {"publication": "Instructions of door A-1", "clause": "page 7"},
}
