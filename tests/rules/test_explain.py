"""Pages that a person can read."""

from dataclasses import replace

import pytest

from rules.explain import explain_answer, explain_requirements
from rules.judging import judge
from rules.model import (
    Citation,
    FilingSpec,
    ImpairmentSpec,
    IntervalSpec,
    LineageStep,
    QualificationSpec,
    RecordSpec,
    RetentionSpec,
    Spec,
)
from rules.pages import CAUTION
from rules.vocabulary import Activity, Change, Governs, Meaning
from rules.wording import in_words
from tests.rules.hand_made import (
    DAY,
    at_most,
    between,
    check,
    found,
    per_door,
    permission,
    reading,
    repeated,
    resolved,
    sequence,
    the_set,
)

FORCE = at_most("opening_force", "15 lbf", printed_si="67 N", measurement_point="latch side")


def squeezed(page: str) -> str:
    """The page in one line, so that a sentence is found wherever its lines break."""
    return " ".join(page.split())


def test_answer() -> None:
    """The worst comes first; each item says its number, its source, who set it and what is lost."""
    held = the_set(
        FORCE,
        check("label"),
        resolved(at_most("opening_force", "4 lbf"), "usual", advisory=True),
        resolved(check("sign"), required=False),
    )
    sent = found(
        reading("opening_force", "16", "lbf", uncertainty="0.5"),
        reading("gap", "1", "mm"),
        checks=[{"check": "label", "result": "conforms"}],
    )
    page = explain_answer(judge(held, sent))
    assert page.index("Does not conform (1)") < page.index("Conforms (1)")
    for sentence in (
        "16 lbf is outside the limit of at most 15 lbf, by 1 lbf.",
        "Probability of conformity 0.00003: the uncertainty does not reach the limit",
        "Source: Invented Code, 2026, 1.2.3; read in a secondary source",
        "Set by: invented-town (add since 2026-03-01)",
        "Protects egress; invented/opening_force",
        "Advisory, outside the summary",
        "Applies, but this activity does not ask for it",
        "/readings/1 gap",
        CAUTION,
    ):
        assert sentence in squeezed(page)


def test_adopted() -> None:
    """What a place adopted names the text that adopted it beside its own source."""
    own = resolved(FORCE)
    town = Citation("Town ordinance", "2024", "7")
    adopted = LineageStep("invented-town", Change.ADOPT, DAY, town)
    held = the_set(replace(own, lineage=(*own.lineage, adopted)))
    page = squeezed(explain_answer(judge(held, found())))
    assert "Source: Invented Code, 2026, 1.2.3" in page
    assert "Adopted by: Town ordinance, 2024, 7" in page
    assert "invented-town (adopt since 2026-03-01)" in page


def test_answer_without_a_number_names_the_limit() -> None:
    """What was not measured still shows what it would be measured against."""
    held = the_set(FORCE, per_door("pause_time"), between("closing_speed", "6 in/s", "24 in/s"))
    page = squeezed(explain_answer(judge(held, found())))
    assert "Limit: at most 15 lbf" in page
    assert "Limit: 6 to 24 in/s" in page
    assert "Limit: to be supplied for each door Reason: no_instructions" in page


def test_what_is_not_known_is_asked_for_once_and_those_that_wait_stand_together() -> None:
    """One list at the top in plain words, most wanted first; no fact is named in every block."""
    held = the_set(
        resolved(FORCE, missing=("smoke_rated",)),
        resolved(check("label"), missing=("smoke_rated",)),
        resolved(check("sign"), missing=("installed_on", "smoke_rated")),
        per_door("pause_time"),
    )
    page = explain_answer(judge(held, found()))
    plain = squeezed(page)
    smoke = "it is rated against smoke leakage, yes or no (smoke_rated): 3 requirements wait for it"
    assert plain.index("To judge more, tell us") < plain.index(smoke)
    assert plain.index(smoke) < plain.index("Cannot be judged (4)")
    assert plain.count("(installed_on): 1 requirement waits for it") == 1
    assert plain.count("listed instructions say (none are on file): 1 requirement waits") == 1
    assert plain.count("(smoke_rated)") == 3  # once at the top, once above each of two groups
    assert "fact_missing" not in page
    assert page.rstrip().splitlines()[-1].startswith("requirements by hand")


def test_lineage_says_each_step_once_and_what_it_changed() -> None:
    """The number before stands where a step changed it, and nowhere else; `judge` has it too."""
    own = resolved(FORCE)
    older = replace(own.requirement, spec=at_most("opening_force", "30 lbf"))
    adopted = LineageStep("town", Change.ADOPT, DAY, own.requirement.citation, older)
    tightened = replace(adopted, change=Change.TIGHTEN)
    item = replace(own, lineage=(*own.lineage, adopted, adopted, tightened))
    answer = judge(the_set(item), found())
    for page in (explain_answer(answer), explain_requirements(the_set(item))):
        assert (
            "Set by: invented-town (add since 2026-03-01), then town (adopt since 2026-03-01), "
            "then town (tighten since 2026-03-01), where before it said: opening force at most "
            "30 lbf"
        ) in squeezed(page)
    said = [step["said_before"] for step in answer["verdicts"][0]["lineage"]]
    assert said == [None, None, None, "opening force at most 30 lbf"]


def test_requirements() -> None:
    """Binding and advisory apart, with what is missing and which activities look at it."""
    held = the_set(
        resolved(FORCE, missing=("installed_on",)),
        resolved(check("usual"), advisory=True, required=False),
    )
    page = squeezed(explain_requirements(held))
    assert page.index("Binding") < page.index("Advisory: shown apart")
    assert "printed beside it: 67 N; measured at: latch side" in page
    assert "Whether it applies cannot be told without: day of installation" in page
    assert "Looked at in: periodic inspection" in page
    assert "No kind of visit has to look at it" in page


YEARLY = IntervalSpec(
    Activity.PERIODIC_INSPECTION, "P1Y", Meaning.FROM_DATE, early="P30D", late="P30D"
)
QUARTERLY = IntervalSpec(
    Activity.OPERATION_TEST, "P3M", Meaning.BETWEEN, least="P2M", greatest="P4M"
)
AFTER_REPAIR = IntervalSpec(Activity.REPAIR_RETEST, "", Meaning.NOT_LATER_THAN, after="repair")


@pytest.mark.parametrize(
    ("spec", "words"),
    [
        (at_most("gap", "3 mm"), "gap at most 3 mm"),
        (at_most("gap", "3 mm", test_load=FORCE.high), "gap at most 3 mm; under a load of 15 lbf"),
        (
            repeated(at_most("gap", "3 mm"), 3, Governs.MEAN),
            (
                "gap at most 3 mm; measured 3 times by common practice, unless the source itself "
                "says so; their mean decides"
            ),
        ),
        (at_most("battery_capacity_ratio", "1.2 1"), "battery capacity ratio at most 1.2"),
        (per_door("pause_time"), "pause time to be supplied for each door"),
        (check("label"), "check: Is the label sound?"),
        (
            sequence("drop", "closes", times=(at_most("start_delay", "10 s"),)),
            "Do it. Expect: 1. closes happens; start delay at most 10 s.",
        ),
        (permission("door_type", "accordion"), "permission: Only where door_type allows it."),
        (
            YEARLY,
            (
                "periodic inspection every 1 year, counted from the day of the last one, "
                "at most 30 days early, at most 30 days late"
            ),
        ),
        (
            QUARTERLY,
            "operation test every 3 months, counted from the last one, 2 months to 4 months apart",
        ),
        (AFTER_REPAIR, "repair retest after each repair"),
        (RecordSpec(("date", "name")), "the record contains: date; name"),
        (RetentionSpec("P3Y"), "kept 3 years, counted from the record"),
        (RetentionSpec("P0D", "next_record"), "kept until the next record"),
        (
            QualificationSpec((Activity.ACCEPTANCE_TEST,), "A qualified person."),
            "who may do it: A qualified person.",
        ),
        (FilingSpec("a visit", "P7D"), "filed within 7 days of: a visit."),
        (
            FilingSpec("a visit", "P5D", business_days=True, says="With a fee."),
            "filed within 5 days, in business days, of: a visit. With a fee.",
        ),
        (
            ImpairmentSpec("fire alarm", "fire watch", over="PT4H", within="P1D"),
            "fire alarm: fire watch once out of service for more than 4 hours within 1 day",
        ),
    ],
)
def test_words(spec: Spec, words: str) -> None:
    """Every kind of requirement has its line, numbers with the unit as published."""
    assert in_words(spec) == words


def test_no_words_for_what_is_no_requirement() -> None:
    """A kind that nobody gave words is a mistake of ours, not an empty line."""
    with pytest.raises(TypeError):
        in_words("a text")


def test_no_probability_is_nought_or_one() -> None:
    """Five decimals that show none, or all, are said as what they are."""
    for value, words in (("99", "below 0.00001"), ("1", "above 0.99999")):
        answer = judge(
            the_set(FORCE), found(reading("opening_force", value, "lbf", uncertainty="1"))
        )
        assert f"Probability of conformity {words}: the uncertainty" in squeezed(
            explain_answer(answer)
        )
