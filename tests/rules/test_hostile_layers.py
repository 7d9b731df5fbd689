"""What a hostile author writes into an override is refused, and quickly."""

from __future__ import annotations

import time

import pytest

import rules

HEAD = '[jurisdiction]\ncode = "us-x"\nparent = "us"\nname = "X"\n\n'
ADOPT = (
    '[[adopt]]\nrequirement = "common-practice/quarterly-operation-test"\nfrom = 2030-01-01\n'
    'standing = "verified"\ncitation = {{ publication = "Order", edition = "1", clause = "{0}" }}\n'
)


@pytest.mark.parametrize(
    "text",
    [
        "a" + ".a" * 20_000 + " = 1",
        "[" + "a." * 20_000 + "a]",
        "x = {" + "a." * 20_000 + "a = 1}",
        "a = " + "9" * 5_000,
        "a = 1e999999999999999999999999999999",
        "a = " + "[" * 30_000,
        'a = "' + "x" * 100_000 + '"',
    ],
    ids=["dotted", "header", "inline", "digits", "exponent", "deep", "long"],
)
def test_a_bomb_is_refused_before_it_costs_anything(text: str) -> None:
    """A person's key has a few parts; the square of a long one's length is never spent."""
    began = time.process_time()
    assert rules.lint(HEAD + text, name="override")
    assert time.process_time() - began < 2


@pytest.mark.parametrize("clause", ["7\\u00003", "a\\u0007b", "a\\u202eb", "a\\rb", "x" * 3_000])
def test_a_text_that_cannot_be_kept_or_shown_is_refused(clause: str) -> None:
    """No database keeps a NUL, and no reader sees a mark that turns the text about."""
    found = rules.lint(HEAD + ADOPT.format(clause), name="override")
    assert [p.pointer for p in found][:1] == ["/adopt/0/citation/clause"]


@pytest.mark.parametrize("every", ["P0D", "PT1H", "P9999Y", "P99999999D"])
def test_an_interval_that_no_calendar_counts_is_refused(every: str) -> None:
    """By its author, with its place, and not later by everybody who lives under it."""
    text = (
        '[[tighten]]\ntarget = "nfpa-80/inspection/yearly"\nfrom = 2030-01-01\n'
        f'every = "{every}"\nstanding = "verified"\n'
        'citation = { publication = "Order", edition = "1", clause = "1" }\n'
    )
    found = rules.lint(HEAD + text, name="override")
    assert "/tighten/0/every" in {p.pointer for p in found}
