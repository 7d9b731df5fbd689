"""The reminders of a day in one message: a section a building, doors of one kind in one line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspections.channels.calendar import ACTIVITY_WORDS
from inspections.models import Stage

if TYPE_CHECKING:
    from doors.models import Person
    from inspections.models import Notice


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that is due, and the doors at which it is."""

    title: str
    doors: list[str]
    source: str
    late: str


@dataclass(frozen=True, slots=True)
class Section:
    """One building."""

    site: str
    ask: str
    lines: list[Line] = field(default_factory=list)


def digest_of(person: Person, notices: Sequence[Notice]) -> dict[str, Any]:
    """What the templates of the digest say, in the language in force."""
    ordered = sorted(notices, key=_by_building)
    sections = [_section(list(each)) for _key, each in groupby(ordered, key=_by_building)]
    return {"person": person, "sections": sections, "summary": _summary(ordered)}


def _by_building(notice: Notice) -> tuple[str, str]:
    return notice.words["site"], str(notice.owing.site_id)


def _by_line(notice: Notice) -> tuple[int, str, str, str, str]:
    words = notice.words
    urgency = [Stage.OVERDUE, Stage.DUE, Stage.BEFORE_DUE].index(Stage(notice.stage))
    return urgency, words["due_on"], words["closes_on"], words["activity"], words["source"]


def _section(notices: list[Notice]) -> Section:
    words = notices[0].words
    asked = ", ".join(words["ask"]) or _("the firm that tests your doors, or your fire authority")
    section = Section(words["site"], asked)
    for _key, each in groupby(sorted(notices, key=_by_line), key=_by_line):
        section.lines.append(_line(list(each)))
    return section


def _line(notices: list[Notice]) -> Line:
    words = notices[0].words
    doors = sorted(f"{n.words['opening']} ({n.words['location']})" for n in notices)
    late = min(filter(None, (n.words["late_since"] for n in notices)), default="")
    told = (
        _("This should have been sent on %(day)s and is late.") % {"day": day_in_words(late)}
        if late
        else ""
    )
    return Line(_title(Stage(notices[0].stage), words), doors, _source(words), told)


def _title(stage: Stage, words: dict[str, Any]) -> str:
    told = {
        "activity": capfirst(str(ACTIVITY_WORDS[words["activity"]])),
        "due": day_in_words(words["due_on"]),
        "last": day_in_words(words["closes_on"]),
    }
    if stage == Stage.OVERDUE:
        return _("%(activity)s, overdue: the last day was %(last)s.") % told
    if words["due_on"] == words["closes_on"]:
        return _("%(activity)s, due on %(due)s.") % told
    return _("%(activity)s, due on %(due)s, on %(last)s at the latest.") % told


def _source(words: dict[str, Any]) -> str:
    if words["adoption"] == "recorded":
        return _("Required by %(source)s.") % words
    return _("Asked for by %(source)s; no adoption is recorded for this place.") % words


def day_in_words(text: str) -> str:
    """A civil day as the language in force writes it."""
    return date_format(date.fromisoformat(text), "DATE_FORMAT")


def _summary(notices: Sequence[Notice]) -> str:
    """For the subject: the buildings, then how much is due there."""
    buildings = list(dict.fromkeys(map(_by_building, notices)))
    place = buildings[0][0]
    if len(buildings) > 1:
        more = len(buildings) - 1
        place = ngettext(
            "%(site)s and %(more)d more building", "%(site)s and %(more)d more buildings", more
        ) % {"site": place, "more": more}
    return f"{place}: {'; '.join(_counts(notices))}"


def _counts(notices: Iterable[Notice]) -> Iterator[str]:
    listed = list(notices)
    due = [n for n in listed if n.stage != Stage.OVERDUE]
    overdue = {(n.owing.site_id, n.words["opening"]) for n in listed if n.stage == Stage.OVERDUE}
    if overdue:
        count = len(overdue)
        yield ngettext("%(count)d fire door overdue", "%(count)d fire doors overdue", count) % {
            "count": count
        }
    if due:
        count = len({(n.owing.site_id, n.words["opening"]) for n in due})
        first = day_in_words(min(n.words["due_on"] for n in due))
        yield ngettext(
            "%(count)d fire door due on %(day)s", "%(count)d fire doors due from %(day)s on", count
        ) % {"count": count, "day": first}
