"""The strict loader: a data file is read whole or refused with every mistake by its place."""

from __future__ import annotations

from datetime import date

import pytest

from rules.errors import DataError
from rules.layers import Publication
from rules.library import assemble, read_toml
from rules.loading.publications import read_publication
from rules.model import CheckSpec, IntervalSpec, LimitSpec, PermissionSpec, SequenceSpec
from rules.vocabulary import Comparator, Meaning
from tests.rules.small_library import CODE_2010, HABIT, LAND, OTHER, layer, publication, table

HEAD = CODE_2010.partition("[[requirement]]")[0]
LIMIT = """
[[requirement]]
id = "a/limit"
kind = "limit"
title = "A limit"
basis = "construction"
protects = "egress"
standing = "secondary"
citation = { clause = "1" }
[requirement.limit]
quantity = "opening_force"
high = "15 lbf"
"""


def problems(text: str) -> set[tuple[str, str]]:
    """The places and codes of every mistake in a publication."""
    with pytest.raises(DataError) as refused:
        publication(HEAD + text)
    assert refused.value.file == "publication.toml"
    return {(problem.pointer, problem.code) for problem in refused.value.problems}


def of_kind(kind: str, body: str) -> str:
    """A requirement of another kind than a limit, with that body."""
    head = LIMIT.partition("[requirement.limit]")[0]
    return head.replace('kind = "limit"', f'kind = "{kind}"') + f"[requirement.{kind}]\n{body}\n"


def only(text: str) -> Publication:
    """The publication with that one requirement."""
    return publication(HEAD + text)


# --- what is read ----------------------------------------------------------------------------


def test_limit_is_kept_as_published() -> None:
    """The value, its unit and its text are the published ones, exactly."""
    spec = only(LIMIT).requirements[0].spec
    assert isinstance(spec, LimitSpec)
    assert (str(spec.high), spec.low, spec.comparator) == ("15 lbf", None, Comparator.AT_MOST)


def test_id_and_citation_come_from_the_publication() -> None:
    """A requirement's id is under its publication, whose title and edition it cites."""
    requirement = only(LIMIT).requirements[0]
    assert requirement.id == "code-2010/a/limit"
    assert (requirement.citation.publication, requirement.citation.edition) == ("Door Code", "2010")


def test_both_bounds_make_a_range() -> None:
    """Low and high together are a range, both inside."""
    spec = only(LIMIT + 'low = "5 lbf"\n').requirements[0].spec
    assert isinstance(spec, LimitSpec)
    assert spec.comparator is Comparator.BETWEEN


def test_interval_without_a_meaning_has_no_tolerance() -> None:
    """An interval means not later than, unless it says otherwise."""
    text = of_kind("interval", 'activity = "operation_test"\nevery = "P3M"')
    spec = only(text).requirements[0].spec
    assert isinstance(spec, IntervalSpec)
    assert spec.meaning is Meaning.NOT_LATER_THAN


def test_permission_is_a_predicate() -> None:
    """What is permitted is told by facts."""
    text = of_kind(
        "permission", 'says = "Few."\npermitted_when = { occupant_load = { at_most = 9 } }'
    )
    spec = only(text).requirements[0].spec
    assert isinstance(spec, PermissionSpec)
    assert spec.permitted_when.ask({"occupant_load": 9}).holds


def test_check_and_sequence_are_read() -> None:
    """The question of a check, and the steps of a sequence in their order."""
    check = only(of_kind("check", 'check = "label"\nasks = "Is it there?"')).requirements[0].spec
    assert isinstance(check, CheckSpec)
    steps = 'steps = [{ step = "one", expect = "a" }, { step = "two", expect = "b" }]'
    text = of_kind("sequence", f'sequence = "s"\ndo = "Try."\n{steps}')
    sequence = only(text).requirements[0].spec
    assert isinstance(sequence, SequenceSpec)
    assert [step.step for step in sequence.steps] == ["one", "two"]


# --- what is refused -------------------------------------------------------------------------

R = "/requirement/0"
MISTAKES = {
    "unknown key": (LIMIT.replace("title", "titel"), f"{R}/titel", "unknown_key"),
    "missing title": (LIMIT.replace('title = "A limit"\n', ""), f"{R}/title", "missing"),
    "empty title": (LIMIT.replace('"A limit"', '" "'), f"{R}/title", "missing"),
    "missing citation": (
        LIMIT.replace('citation = { clause = "1" }\n', ""),
        f"{R}/citation",
        "missing",
    ),
    "missing clause": (LIMIT.replace('clause = "1"', ""), f"{R}/citation/clause", "missing"),
    "unknown kind": (
        LIMIT.replace('kind = "limit"', 'kind = "bound"'),
        f"{R}/kind",
        "unknown_word",
    ),
    "unknown standing": (LIMIT.replace("secondary", "rumour"), f"{R}/standing", "unknown_word"),
    "bad identifier": (LIMIT.replace("a/limit", "A Limit"), f"{R}/id", "bad_identifier"),
    "wrong dimension": (
        LIMIT.replace("15 lbf", "15 in"),
        f"{R}/limit/high",
        "wrong_dimension",
    ),
    "unknown unit": (LIMIT.replace("15 lbf", "15 lb"), f"{R}/limit/high", "wrong_dimension"),
    "no such unit": (LIMIT.replace("15 lbf", "15 stone"), f"{R}/limit/high", "unknown_unit"),
    "no unit": (LIMIT.replace("15 lbf", "15"), f"{R}/limit/high", "unknown_unit"),
    "not a number": (LIMIT.replace("15 lbf", "NaN lbf"), f"{R}/limit/high", "not_a_number"),
    "negative": (LIMIT.replace("15 lbf", "-15 lbf"), f"{R}/limit/high", "out_of_range"),
    "not a text": (LIMIT.replace('"15 lbf"', "15"), f"{R}/limit/high", "wrong_type"),
    "unknown quantity": (
        LIMIT.replace("opening_force", "push"),
        f"{R}/limit/quantity",
        "unknown_quantity",
    ),
    "no number": (LIMIT.replace('high = "15 lbf"\n', ""), f"{R}/limit", "missing"),
    "bounds crossed": (LIMIT + 'low = "20 lbf"\n', f"{R}/limit/low", "out_of_order"),
    "number and per door": (
        LIMIT + "supplied_per_door = true\n",
        f"{R}/limit/supplied_per_door",
        "contradiction",
    ),
    "no table": (LIMIT.partition("[requirement.limit]")[0], f"{R}/limit", "missing"),
    "table of another kind": (
        LIMIT + '[requirement.check]\ncheck = "x"\nasks = "?"\n',
        f"{R}/check",
        "unknown_key",
    ),
    "unknown fact": (
        LIMIT.replace("[requirement.limit]", "applies = { colour = 1 }\n[requirement.limit]"),
        f"{R}/applies/colour",
        "unknown_fact",
    ),
    "wrong value of a fact": (
        LIMIT.replace(
            "[requirement.limit]", 'applies = { door_type = "lid" }\n[requirement.limit]'
        ),
        f"{R}/applies/door_type",
        "wrong_value",
    ),
    "bad bound of a fact": (
        LIMIT.replace(
            "[requirement.limit]",
            'applies = { opening_width = { at_least = "2 lbf" } }\n[requirement.limit]',
        ),
        f"{R}/applies/opening_width/at_least",
        "wrong_dimension",
    ),
    "no bound of a fact": (
        LIMIT.replace(
            "[requirement.limit]", "applies = { occupant_load = {} }\n[requirement.limit]"
        ),
        f"{R}/applies/occupant_load",
        "missing",
    ),
    "unknown activity": (
        LIMIT.replace("[requirement.limit]", 'required_in = ["visit"]\n[requirement.limit]'),
        f"{R}/required_in",
        "unknown_word",
    ),
    "no duration": (
        of_kind("interval", 'activity = "operation_test"\nevery = "3 months"'),
        f"{R}/interval/every",
        "not_a_duration",
    ),
    "no least": (
        of_kind("interval", 'activity = "operation_test"\nevery = "P3M"\nmeaning = "between"'),
        f"{R}/interval/meaning",
        "missing",
    ),
    "no steps": (
        of_kind("sequence", 'sequence = "s"\ndo = "Try."'),
        f"{R}/sequence/steps",
        "missing",
    ),
    "same step twice": (
        of_kind(
            "sequence",
            'sequence = "s"\ndo = "Try."\n'
            'steps = [{ step = "a", expect = "x" }, { step = "a", expect = "y" }]',
        ),
        f"{R}/sequence/steps",
        "duplicate",
    ),
    "step that is no table": (
        of_kind("sequence", 'sequence = "s"\ndo = "Try."\nsteps = ["a"]'),
        f"{R}/sequence/steps",
        "wrong_type",
    ),
    "unknown event": (
        of_kind("interval", 'activity = "operation_test"\nafter = "rain"'),
        f"{R}/interval/after",
        "unknown_word",
    ),
    "unknown activity of an interval": (
        of_kind("interval", 'activity = "visit"\nevery = "P1Y"'),
        f"{R}/interval/activity",
        "unknown_word",
    ),
    "unknown start of the next": (
        of_kind("interval", 'activity = "operation_test"\nevery = "P1Y"\nnext_from = "now"'),
        f"{R}/interval/next_from",
        "unknown_word",
    ),
    "unknown clock of a record": (
        of_kind("retention", 'keep = "P3Y"\ncounted_from = "now"'),
        f"{R}/retention/counted_from",
        "unknown_word",
    ),
    "record of nothing": (of_kind("record", "contents = []"), f"{R}/record/contents", "missing"),
    "content that is no text": (
        of_kind("record", "contents = [1]"),
        f"{R}/record/contents",
        "wrong_type",
    ),
    "contents that are no list": (
        of_kind("record", 'contents = "date"'),
        f"{R}/record/contents",
        "wrong_type",
    ),
    "endless duration": (
        of_kind("retention", f'keep = "P{"9" * 50}Y"'),
        f"{R}/retention/keep",
        "not_a_duration",
    ),
    "no repeats": (LIMIT + "repeats = 0\n", f"{R}/limit/repeats", "out_of_range"),
    "empty choice": (
        LIMIT.replace("[requirement.limit]", "applies = { any = [] }\n[requirement.limit]"),
        f"{R}/applies/any",
        "missing",
    ),
    "empty list of values": (
        LIMIT.replace("[requirement.limit]", "applies = { door_type = [] }\n[requirement.limit]"),
        f"{R}/applies/door_type",
        "missing",
    ),
    "a measure as a value": (
        LIMIT.replace(
            "[requirement.limit]", 'applies = { opening_width = "1 m" }\n[requirement.limit]'
        ),
        f"{R}/applies/opening_width",
        "wrong_type",
    ),
    "a count bounded by a text": (
        LIMIT.replace(
            "[requirement.limit]",
            'applies = { occupant_load = { at_least = "many" } }\n[requirement.limit]',
        ),
        f"{R}/applies/occupant_load/at_least",
        "wrong_value",
    ),
    "a date that is none": (
        LIMIT.replace("[requirement.limit]", 'in_force_from = "2020-13-01"\n[requirement.limit]'),
        f"{R}/in_force_from",
        "not_a_date",
    ),
    "a moment for a date": (
        LIMIT.replace(
            "[requirement.limit]", "in_force_from = 2020-01-01T00:00:00Z\n[requirement.limit]"
        ),
        f"{R}/in_force_from",
        "not_a_date",
    ),
}


@pytest.mark.parametrize(("text", "pointer", "code"), MISTAKES.values(), ids=MISTAKES)
def test_mistakes_are_named_by_their_place(text: str, pointer: str, code: str) -> None:
    """Each mistake is refused with the key it stands at and why."""
    assert (pointer, code) in problems(text)


def test_every_mistake_of_a_file_is_named_at_once() -> None:
    """A file with three mistakes is refused once, with all three."""
    text = LIMIT.replace("title", "titel").replace("lbf", "in").replace("egress", "nobody")
    assert {code for _, code in problems(text)} >= {
        "unknown_key",
        "wrong_dimension",
        "unknown_word",
    }


def test_nested_predicates_have_an_end() -> None:
    """Predicates nested beyond what a person can follow are refused, not recursed into."""
    deep = "{ not = " * 60 + "{ fire_door = true }" + " }" * 60
    text = LIMIT.replace("[requirement.limit]", f"applies = {deep}\n[requirement.limit]")
    assert "too_deep" in {code for _, code in problems(text)}


def test_same_id_twice_is_refused() -> None:
    """Two requirements of one publication cannot share an id."""
    assert ("/requirement", "duplicate") in problems(LIMIT + LIMIT)


def test_edition_of_a_series_has_a_year() -> None:
    """Without its year an edition could not be put in order."""
    with pytest.raises(DataError, match="edition_year"):
        publication(HEAD.replace("edition_year = 2010\n", "") + LIMIT)


def test_duplicate_keys_and_broken_toml_are_refused_with_the_line() -> None:
    """What is no TOML is refused, naming file and line."""
    with pytest.raises(DataError, match=r"x\.toml: /: .*line 2"):
        read_toml("a = 1\na = 2\n", "x.toml")


def test_document_without_a_publication_is_refused() -> None:
    """A file that is no publication says what is missing."""
    with pytest.raises(DataError, match="/publication"):
        read_publication({}, file="x.toml")


# --- the library as a whole ------------------------------------------------------------------


def test_parts_fit_whatever_their_order() -> None:
    """The library does not depend on the order in which its files were read."""
    texts = [CODE_2010, OTHER, HABIT]
    one = assemble([publication(text) for text in texts], [layer(LAND)])
    other = assemble([publication(text) for text in reversed(texts)], [layer(LAND)])
    assert list(one.requirements) == list(other.requirements)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (('reference_in = ["land"]', 'reference_in = ["isle"]'), "no place: isle"),
        (('series = "code"', 'series = "code"\ncarries_from = "code-1999"'), "code-1999"),
        (('series = "code"', 'series = "other-2015"'), "another publication"),
        (('series = "code"', 'series = "code"\ncarries_from = "code-2010"'), "circle"),
    ],
)
def test_parts_that_do_not_fit_are_refused(change: tuple[str, str], message: str) -> None:
    """A place or an earlier edition that does not exist is named."""
    changed = publication(CODE_2010.replace(*change))
    with pytest.raises(DataError, match=message):
        assemble([changed, publication(OTHER)], [layer(LAND)])


def test_two_files_of_one_id_are_refused() -> None:
    """Two publications, or two places, cannot share a name and a revision."""
    with pytest.raises(DataError, match="code-2010: /: revision 1 stands in two files"):
        assemble([publication(CODE_2010), publication(CODE_2010)], [layer(LAND)])
    with pytest.raises(DataError, match="land: /: revision 1 stands in two files"):
        assemble([], [layer(LAND), layer(LAND)])


def test_latest_revision_holds_and_says_why() -> None:
    """A correction is a later revision of the same id, with its reason; the earlier one rests."""
    head = 'series = "code"\nrevision = 2\nreason = "The force was misread."'
    corrected = CODE_2010.replace('series = "code"', head).replace("35 lbf", "34 lbf")
    parts = [publication(CODE_2010), publication(corrected)]
    for order in (parts, parts[::-1]):
        known = assemble(order, [layer(LAND)])
        spec = known.requirements["code-2010/force/motion"].spec
        assert isinstance(spec, LimitSpec)
        assert str(spec.high) == "34 lbf"
    place = layer(LAND + 'revision = 2\nreason = "Its name was misread."\n')
    assert assemble([], [place, layer(LAND)]).places["land"].revision == 2


def test_revision_without_a_reason_is_refused() -> None:
    """A correction that does not say what was wrong is refused."""
    with pytest.raises(DataError, match="/publication/reason"):
        publication(CODE_2010.replace('series = "code"', 'series = "code"\nrevision = 2'))
    with pytest.raises(DataError, match="/jurisdiction/reason"):
        layer(LAND + "revision = 2\n")


def test_places_in_a_circle_are_refused() -> None:
    """A place cannot lie under itself, however far the way."""
    one = layer(LAND.replace("kind", 'parent = "isle"\nkind'))
    other = layer(LAND.replace("land", "isle").replace("kind", 'parent = "land"\nkind'))
    with pytest.raises(DataError, match="circle"):
        assemble([], [one, other])


def test_place_under_nothing_is_refused() -> None:
    """A place that lies under a place that does not exist is named."""
    with pytest.raises(DataError, match="no place has the code isle"):
        assemble([], [layer(LAND.replace("kind", 'parent = "isle"\nkind'))])


def test_date_bounds_a_fact() -> None:
    """A predicate on a day compares with a date, both ends inside."""
    text = LIMIT.replace(
        "[requirement.limit]",
        "applies = { installed_on = { at_least = 2020-01-01 } }\n[requirement.limit]",
    )
    applies = only(text).requirements[0].applies
    assert applies.ask({"installed_on": date(2020, 1, 1)}).holds
    assert not applies.ask({"installed_on": date(2019, 12, 31)}).holds


def test_unread_parts_are_carried_from_the_earlier_edition() -> None:
    """What an edition does not repeat stands under the earlier id; what it drops is gone."""
    head = HEAD.replace("2010", "2020").replace(
        'series = "code"', 'series = "code"\ncarries_from = "code-2010"\ndrops = ["yearly"]'
    )
    own = LIMIT.replace("a/limit", "force/motion")
    known = assemble([publication(CODE_2010), publication(head + own)], [layer(LAND)])
    names = [requirement.id for requirement in known.publications["code-2020"].every]
    assert names == ["code-2020/force/motion", "code-2010/force/existing"]


def test_table_of_a_text_keeps_numbers_exact() -> None:
    """Numbers in a data file never pass through a binary float."""
    assert str(table("a = 0.1")["a"]) == "0.1"
