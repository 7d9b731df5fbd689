"""The data that ships with the package, read once and checked as a whole."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

from rules.errors import DataError, Problem
from rules.layers import EVERYWHERE, Layer, Library, Publication
from rules.loading.layers import read_layer
from rules.loading.publications import read_publication
from rules.model import Requirement

Revised = TypeVar("Revised", Publication, Layer)


@cache
def load() -> Library:
    """The packaged publications and places. Raises DataError where a data file is wrong."""
    data = files("rules") / "data"
    publications = [
        read_publication(read_toml(entry.read_text("utf-8"), entry.name), file=entry.name)
        for entry in sorted(_tomls(data / "publications"), key=lambda entry: entry.name)
    ]
    places = [
        read_layer(read_toml(entry.read_text("utf-8"), entry.name), file=entry.name)
        for entry in sorted(_tomls(data / "jurisdictions"), key=lambda entry: entry.name)
    ]
    return assemble(publications, places)


def _tomls(folder: Any) -> Iterable[Any]:  # noqa: ANN401 - importlib's Traversable, moved in 3.14
    return (entry for entry in folder.iterdir() if entry.name.endswith(".toml"))


_LONGEST_TEXT = 65_536  # four times the longest that is packaged
_MOST_DOTS = 40
_NO_KEY = re.compile(r"""[^A-Za-z0-9_."'\- \t]""")


def read_toml(text: str, file: str) -> dict[str, Any]:
    """The document of a TOML text, numbers exact; raises DataError with the line.

    A reader of TOML spends the square of a dotted key's length: longer texts and keys than a
    person writes are refused before they are read.
    """
    why = _unreadable(text)
    if why:
        raise DataError(file, [Problem("", "too_long", why)])
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError, ArithmeticError) as refused:
        raise DataError(file, [Problem("", "not_toml", str(refused)[:300])]) from refused


def _unreadable(text: str) -> str:
    if len(text) > _LONGEST_TEXT:
        return f"at most {_LONGEST_TEXT} characters are read"
    if any(part.count(".") > _MOST_DOTS for part in _NO_KEY.split(text)):
        return f"a key has at most {_MOST_DOTS} parts"
    return ""


def assemble(publications: Iterable[Publication], places: Iterable[Layer]) -> Library:
    """A library of these parts, whatever their order; raises DataError where they do not fit.

    Of several revisions of one publication or place the latest holds.
    """
    by_id = _latest(publications, lambda publication: publication.id)
    by_code = _latest(places, lambda place: place.code)
    carried = {name: _carry(by_id, name, ()) for name in by_id}
    _refuse_strangers(carried, by_code)
    own = {r.id: r for p in carried.values() for r in p.requirements}
    return Library(carried, by_code, own, _series(carried.values()))


def _latest(parts: Iterable[Revised], key: Callable[[Revised], str]) -> dict[str, Revised]:
    """The latest revision of each, in the order of their names; no revision may come twice."""
    found: dict[str, dict[int, Revised]] = {}
    for part in parts:
        revisions = found.setdefault(key(part), {})
        if part.revision in revisions:
            raise _clash(key(part), f"revision {part.revision} stands in two files")
        revisions[part.revision] = part
    return {name: found[name][max(found[name])] for name in sorted(found)}


def _clash(name: str, message: str) -> DataError:
    return DataError(name, [Problem("", "clash", message)])


def _carry(by_id: Mapping[str, Publication], name: str, seen: tuple[str, ...]) -> Publication:
    publication = by_id[name]
    earlier = publication.carries_from
    if not earlier:
        return publication
    if earlier in seen or earlier == name:
        raise _clash(name, f"carries_from leads in a circle over {earlier}")
    if earlier not in by_id:
        raise _clash(name, f"carries_from names no publication: {earlier}")
    own = {slug(requirement) for requirement in publication.requirements} | publication.drops
    # What was not read of an earlier edition says nothing of this one.
    older = (r for r in _carry(by_id, earlier, (*seen, name)).every if not r.states_a_gap)
    return replace(publication, carried=tuple(r for r in older if slug(r) not in own))


def slug(requirement: Requirement) -> str:
    """What names a requirement within its publication, the same in every edition."""
    return requirement.id.partition("/")[2]


def _refuse_strangers(publications: Mapping[str, Publication], places: Mapping[str, Layer]) -> None:
    for publication in publications.values():
        for code in publication.reference_in:
            if code != EVERYWHERE and code not in places:
                raise _clash(publication.id, f"reference_in names no place: {code}")
        if publication.series in publications and publication.series != publication.id:
            raise _clash(publication.id, "a series may not have the id of another publication")
    for place in places.values():
        chain(places, place.code)


def chain(places: Mapping[str, Layer], code: str) -> tuple[Layer, ...]:
    """The places from the country down to this one; raises DataError on a gap or a circle."""
    walked: list[Layer] = []
    step = code
    while step:
        if any(place.code == step for place in walked):
            raise _clash(code, f"the parents lead in a circle over {step}")
        if step not in places:
            raise _clash(code, f"no place has the code {step}")
        walked.append(places[step])
        step = places[step].parent
    return tuple(reversed(walked))


def _series(publications: Iterable[Publication]) -> dict[str, tuple[Publication, ...]]:
    series: dict[str, list[Publication]] = {}
    for publication in publications:
        series.setdefault(publication.series or publication.id, []).append(publication)
    return {
        name: tuple(sorted(editions, key=lambda p: (p.edition_year or 0, p.id)))
        for name, editions in series.items()
    }


def alias(library: Library, requirement: Requirement) -> str:
    """The name of a requirement in whichever edition governs: `nfpa-80/inspection/yearly`."""
    publication = library.publications[requirement.id.partition("/")[0]]
    return f"{publication.series or publication.id}/{slug(requirement)}"


def named_in(library: Library, target: str) -> tuple[Requirement, ...]:
    """The requirements that a target names: the one of that id, or one in each edition."""
    if target in library.requirements:
        return (library.requirements[target],)
    series, _, name = target.partition("/")
    editions = library.series.get(series, ())
    return tuple(r for edition in editions for r in edition.requirements if slug(r) == name)


def same_in(publication: Publication | None, requirement: Requirement) -> Requirement | None:
    """What another edition has under the same name, or None."""
    if publication is None:
        return None
    return next((r for r in publication.every if slug(r) == slug(requirement)), None)
