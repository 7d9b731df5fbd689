"""Three-valued predicates: true, false, or unknown because a fact is missing."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.loading.predicates import read_predicate
from rules.loading.table import Table
from rules.predicates import ALWAYS, AllOf, AnyOf, Not, OneOf, Predicate, Within

NAMES = ["a", "b", "c"]
leaves = st.builds(OneOf, st.sampled_from(NAMES), st.just((True,)))
predicates = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.builds(Not, inner),
        st.builds(AllOf, st.lists(inner, max_size=3).map(tuple)),
        st.builds(AnyOf, st.lists(inner, max_size=3).map(tuple)),
    ),
    max_leaves=12,
)
facts = st.dictionaries(st.sampled_from(NAMES), st.sampled_from([True, False, None]))


@given(predicates, facts)
def test_unknown_means_that_some_completion_decides_otherwise_or_none_is_known(
    predicate: Predicate, known: dict[str, object]
) -> None:
    """An answer that is known stays the same however the missing facts turn out."""
    answer = predicate.ask(known)
    if answer.holds is None:
        assert answer.missing
        return
    open_names = [name for name in NAMES if known.get(name) is None]
    for bits in range(2 ** len(open_names)):
        filled = {name: bool(bits >> at & 1) for at, name in enumerate(open_names)}
        assert predicate.ask({**known, **filled}).holds == answer.holds


@given(predicates, facts)
def test_missing_names_are_missing(predicate: Predicate, known: dict[str, object]) -> None:
    """What is named as missing is a fact that was not given."""
    assert all(known.get(name) is None for name in predicate.ask(known).missing)


@given(predicates, facts)
def test_not_twice_is_the_same(predicate: Predicate, known: dict[str, object]) -> None:
    """A double negation answers alike."""
    assert Not(Not(predicate)).ask(known) == predicate.ask(known)


@given(predicates, predicates, facts)
def test_de_morgan(one: Predicate, other: Predicate, known: dict[str, object]) -> None:
    """Not all is any not."""
    left = Not(AllOf((one, other))).ask(known)
    assert left.holds == AnyOf((Not(one), Not(other))).ask(known).holds


def test_nothing_asked_always_holds() -> None:
    """An empty predicate holds whatever is known."""
    assert ALWAYS.ask({}).holds is True


@pytest.mark.parametrize(("load", "holds"), [(9, False), (10, True), (50, True), (51, False)])
def test_bounds_are_inside(load: int, holds: bool) -> None:  # noqa: FBT001
    """Both ends of a range are in it."""
    predicate = Within("occupant_load", Fraction(10), Fraction(50))
    assert predicate.ask({"occupant_load": load}).holds is holds


def test_dates_are_bounds_too() -> None:
    """A date fact is compared with a date."""
    predicate = Within("installed_on", at_most=date(2020, 1, 1))
    assert predicate.ask({"installed_on": date(2020, 1, 1)}).holds is True
    assert predicate.ask({"installed_on": date(2020, 1, 2)}).holds is False
    assert predicate.ask({}).missing == ("installed_on",)


def test_table_reads_as_all_of_its_keys() -> None:
    """Every key of a table must hold; `any` and `not` stand inside."""
    document = {
        "door_type": ["rolling", "swinging"],
        "opening_width": {"at_least": "1 m"},
        "any": [{"closer": True}, {"spring_hinge": True}],
        "not": {"dwelling": True},
    }
    predicate = read_predicate(Table(document, "", []))
    known = {
        "door_type": "rolling",
        "opening_width": Fraction(2),
        "spring_hinge": True,
        "dwelling": False,
    }
    assert predicate.ask(known).holds is True
    assert predicate.ask({**known, "dwelling": True}).holds is False
    assert predicate.ask({**known, "spring_hinge": False}).missing == ("closer",)
