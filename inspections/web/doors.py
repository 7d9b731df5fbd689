"""The page of one door, for whoever reads its code there: no account, no other door, no history."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from doors.errors import ServiceError
from doors.models import Opening
from doors.selectors.door_codes import AtDoor, door_of
from doors.selectors.openings import opening_by_id
from doors.tenancy import acting_for
from doors.web.base import nothing_here, page, wait
from inspections.models import Visit
from inspections.selectors.door_tests import DoorTest, door_test
from inspections.selectors.signs import meaning_of
from inspections.services.door_reports import report_from_door
from inspections.services.door_tests import record_door_test
from inspections.web.door_forms import Read, form_token, nonce_of, read_report, read_test
from inspections.web.languages import in_language_of
from inspections.web.signs import QUESTIONS


@require_http_methods(["GET", "HEAD", "POST"])
def door(request: HttpRequest, code: str) -> HttpResponse:
    """Show one door; by its forms a test is recorded, or what is wrong reported. Opening the
    page changes nothing; an unknown or revoked code is as if it had never been.
    """
    at = door_of(code)
    if at is None:
        return nothing_here(request)
    with in_language_of(request) as language:
        if request.method != "POST":
            with acting_for(at.custodian_id, write=False):
                return _Page(request, at, language).shown()
        too_often = wait(request, f"door {at.code_id}", by="COUNT_AT_DOOR")
        if too_often is not None:
            return too_often
        return _taken(request, at, language)


def _taken(request: HttpRequest, at: AtDoor, language: str) -> HttpResponse:
    """Take a form in; what is refused leaves nothing behind but the reason on the page."""
    try:
        with acting_for(at.custodian_id, write=True):
            return _Page(request, at, language).taken()
    except ServiceError as refused:
        with acting_for(at.custodian_id, write=False):
            read = Read(request.POST, {"form": refused.detail})
            return _Page(request, at, language).shown(read)


class _Page:
    """One answer about one door, within the context of who answers for it."""

    def __init__(self, request: HttpRequest, at: AtDoor, language: str) -> None:
        self._request, self._at, self._language = request, at, language
        self._opening: Opening = opening_by_id(at.opening_id)

    def taken(self) -> HttpResponse:
        """Take one of the two forms in."""
        nonce = nonce_of(self._request.POST.get("form", ""), self._at.code_id)
        if nonce is None:
            problem = gettext("This page was open too long. Look through it and send again.")
            return self.shown(Read(self._request.POST, {"form": problem}))
        if self._request.POST.get("way") == "report":
            return self._reported(nonce)
        return self._tested(nonce)

    def shown(self, read: Read | None = None) -> HttpResponse:
        """The page with both its forms, and with what was sent before where it was refused."""
        test = door_test(self._opening)
        sent = read.sent if read else {}
        problems = read.problems if read else {}
        context = {
            "form": form_token(self._at.code_id),
            "cautions": {k: [gettext(w) for w in words] for k, words in test.cautions.items()},
            "asked": [_question(asked, sent, problems) for asked in test.asked],
            "signs": [_sign(key, sent, problems) for key in QUESTIONS],
            "sent": {n: sent.get(n, "") for n in ("told_by", "remarks", "words", "way")},
            "problems": problems,
        }
        return self._page("door", context, status=422 if problems else 200)

    def _tested(self, nonce: str) -> HttpResponse:
        test = door_test(self._opening)
        read, answers, told_by = read_test(self._request.POST, test)
        remarks = read.text("remarks")
        if read.problems:
            return self.shown(read)
        visit = record_door_test(
            opening_id=self._opening.id,
            nonce=nonce,
            answers=answers,
            told_by=told_by,
            remarks=remarks,
        )
        return self._page("door_tested", _told_of(visit, test))

    def _reported(self, nonce: str) -> HttpResponse:
        read, told = read_report(self._request.POST)
        if read.problems:
            return self.shown(read)
        report = report_from_door(
            opening_id=self._opening.id, code_id=self._at.code_id, nonce=nonce, told=told
        )
        meaning = meaning_of(self._opening, report.said, self._language)
        return self._page("door_reported", {"meaning": meaning, "alarm": report.said["alarm"]})

    def _page(self, template: str, context: dict[str, Any], *, status: int = 200) -> HttpResponse:
        shared = {
            "language": self._language,
            "opening": self._opening,
            "site": self._opening.site,
            "calls": self._at.calls,
        }
        return page(self._request, template, shared | context, status=status)


def _question(asked: Any, sent: Any, problems: dict[str, str]) -> dict[str, Any]:  # noqa: ANN401
    """One question of the test in the language at hand, with what was answered before."""
    return {
        "key": asked.key,
        "texts": [gettext(text) for text in asked.questions],
        "cautions": [gettext(text) for text in asked.cautions],
        "steps": [gettext(expect) for _, expect in asked.steps],
        "run": asked.part == "sequences",
        "said": sent.get(asked.key, ""),
        "reason": sent.get(f"reason:{asked.key}", ""),
        "problem": problems.get(asked.key) or problems.get(f"reason:{asked.key}", ""),
    }


def _sign(key: str, sent: Any, problems: dict[str, str]) -> dict[str, Any]:  # noqa: ANN401
    question, words = QUESTIONS[key]
    return {
        "key": key,
        "text": gettext(question),
        "words": [(word, gettext(text)) for word, text in words.items()],
        "said": sent.get(key, ""),
        "problem": problems.get(key, ""),
    }


def _told_of(visit: Visit, test: DoorTest) -> dict[str, Any]:
    """What the recorded answers mean: which of them were no, and which were left."""
    said = {
        f"{part}:{found[word]}": found["result"]
        for part, word in (("checks", "check"), ("sequences", "sequence"))
        for found in visit.findings.get(part, [])
    }
    asked = {each.key: [gettext(text) for text in each.questions] for each in test.asked}

    def those(result: str) -> list[str]:
        return [" ".join(asked.get(key, [key])) for key, found in said.items() if found == result]

    return {
        "failed": those("does_not_conform"),
        "left": those("not_tested"),
        "verdict": visit.verdict,
    }
