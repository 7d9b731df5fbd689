"""Names that a person takes for one another: told of, never refused and never merged.

Two names look alike where their skeletons by Unicode's UTS 39 do, with letters of compatibility,
case and spaces set aside. The table of characters is that of a library; what it does not hold,
and what looks alike in one typeface only, is not seen.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from uuid import UUID

from doors.models import Organization, Person

MOST_TOLD = 5
_MARK = "\u200e"  # with which the table wraps characters that are written from the right


@dataclass(frozen=True, slots=True)
class LookAlike:
    """What stands already under such a name."""

    id: UUID
    name: str


def people_like(person: Person) -> list[LookAlike]:
    """Other people of the acting organization whose names look like this one's."""
    others = Person.objects.exclude(id=person.id).filter(ended_at=None)
    return _alike(person.name, others.order_by("id").values_list("id", "name").iterator())


def organizations_like(organization: Organization) -> list[LookAlike]:
    """Other organizations that the acting one knows, whose names look like this one's."""
    others = Organization.objects.exclude(id=organization.id).filter(merged_into=None)
    return _alike(organization.name, others.order_by("id").values_list("id", "name").iterator())


def looks_like(one: str, other: str) -> bool:
    """Whether a person would take one name for the other."""
    return not _keys(one).isdisjoint(_keys(other))


def skeleton(text: str) -> str:
    """What the text looks like, by UTS 39, section 4: equal for two that look alike."""
    plain, prototypes = unicodedata.normalize("NFD", text), _prototypes()
    return unicodedata.normalize("NFD", "".join(prototypes.get(each, each) for each in plain))


def _alike(name: str, others: Iterable[tuple[UUID, str]]) -> list[LookAlike]:
    found = []
    for other_id, other in others:
        if looks_like(name, other):
            found.append(LookAlike(other_id, other))
            if len(found) == MOST_TOLD:
                break
    return found


@lru_cache(maxsize=20_000)
def _keys(name: str) -> frozenset[str]:
    """Two skeletons, before and after the case is set aside: I looks like l, and I is also i."""
    text = " ".join(unicodedata.normalize("NFKC", name).split())
    return frozenset({skeleton(text).casefold(), skeleton(text.casefold())})


@cache
def _prototypes() -> dict[str, str]:
    """What each character looks like. The table says for one character its prototype, and for a
    prototype all that look like it; of two that name only each other, the smaller stands.
    """
    # Read when it is first wanted: few processes ever look at a name.
    from confusable_homoglyphs.confusables import confusables_data  # noqa: PLC0415

    links: dict[str, list[str]] = {
        text.strip(_MARK): [each["c"].strip(_MARK) for each in alike]
        for text, alike in confusables_data.items()
    }
    found = {}
    for text, alike in links.items():
        wider = [each for each in alike if len(each) > 1]
        if len(text) == 1 and wider:
            found[text] = wider[0]
        elif len(text) == len(alike) == 1:
            (other,) = alike
            found[text] = other if len(links[other]) > 1 else min(text, other)
    return found
