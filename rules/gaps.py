"""What was not read of an edition, so that its silence is not taken for a rule."""

from __future__ import annotations

from collections.abc import Mapping

from rules.model import QualificationSpec, Requirement, RequirementSet, Resolved

ByName = Mapping[str, Resolved]


def parted(held: ByName) -> tuple[dict[str, Resolved], dict[str, Resolved]]:
    """The requirements, and the rows that only state a gap; each by its name in its series."""
    gaps = {name: item for name, item in held.items() if item.requirement.states_a_gap}
    return {name: item for name, item in held.items() if name not in gaps}, gaps


def not_read(held: RequirementSet) -> list[Requirement]:
    """The rows that bind and only state a gap."""
    binding = (item.requirement for item in held.items if not item.advisory)
    return [requirement for requirement in binding if requirement.states_a_gap]


def gap_json(requirement: Requirement) -> dict[str, str]:
    """A gap as an answer tells it: of which edition, and what was not read."""
    cited = requirement.citation
    return {
        "requirement": requirement.id,
        "edition": f"{cited.publication}, {cited.edition}",
        "title": requirement.title,
    }


def left_out(name: str, gaps: ByName) -> bool:
    """Whether a requirement of that name may stand where these gaps are, and was not read."""
    series, _, within = name.partition("/")
    return any(
        isinstance(gap.requirement.spec, QualificationSpec)
        and stated.partition("/")[0] == series
        and gap.requirement.spec.leaves_out(within)
        for stated, gap in gaps.items()
    )
