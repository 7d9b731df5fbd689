"""Reads one publication file: its header and its requirements."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from rules.errors import DataError, Problem
from rules.layers import Publication
from rules.loading.requirements import read_requirement
from rules.loading.table import Table
from rules.model import Citation, Requirement


def read_publication(document: Mapping[str, Any], *, file: str) -> Publication:
    """The publication of a data file; raises DataError with every mistake in it."""
    problems: list[Problem] = []
    root = Table(document, "", problems)
    head = root.table("publication", required=True)
    blocks = root.tables("requirement")
    root.close()
    if head is None:
        raise DataError(file, problems)
    publication = _read_head(head, blocks)
    repeated = Counter(requirement.id for requirement in publication.requirements)
    for name in sorted(name for name, times in repeated.items() if times > 1):
        root.refuse("requirement", "duplicate", f"{name} is written twice")
    if problems:
        raise DataError(file, problems)
    return publication


def _read_head(head: Table, blocks: list[Table]) -> Publication:
    name = head.slug("id")
    cited = Citation(head.text("title", required=True), head.text("edition", required=True), "")
    revision = head.count("revision", 1)
    year = head.count("edition_year", 0) or None
    publication = Publication(
        id=name,
        title=cited.publication,
        edition=cited.edition,
        publisher=head.text("publisher", required=True),
        requirements=_read_blocks(blocks, name, cited),
        series=head.text("series"),
        edition_year=year,
        reference_in=head.texts("reference_in"),
        carries_from=head.text("carries_from"),
        drops=frozenset(head.texts("drops")),
        revision=revision,
        reason=head.text("reason", required=revision > 1),
    )
    only_gaps = all(requirement.states_a_gap for requirement in publication.requirements)
    if publication.series and year is None and not only_gaps:
        # What was never read may stand for all that governed before the first edition known.
        head.refuse("edition_year", "missing", "an edition of a series has its year")
    head.close()
    return publication


def _read_blocks(blocks: list[Table], name: str, cited: Citation) -> tuple[Requirement, ...]:
    found = [read_requirement(block, prefix=name, inside=cited) for block in blocks]
    for block in blocks:
        block.close()
    return tuple(requirement for requirement in found if requirement is not None)
