"""The two forms of a door's page: what they hold, and how what comes back is read."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from uuid import UUID

from django.core import signing
from django.http import QueryDict
from django.utils.translation import gettext

from doors.names import fault_in_name, fault_in_prose, normal
from inspections.selectors.door_tests import DoorTest
from inspections.services.door_reports import Told
from inspections.services.door_tests import Answer
from rules.practice.signs import NOT_KNOWN, SEEN

ANSWERS = ("yes", "no", "not_tested")
_SALT = "door-form"
_OPEN_FOR = timedelta(hours=12)
_LONGEST_NAME, _LONGEST_TEXT, _LONGEST_REASON = 200, 2000, 500


def form_token(code_id: UUID) -> str:
    """What makes one sending of a form one: signed, so that it was given out for this code."""
    return signing.dumps({"code": str(code_id), "nonce": secrets.token_hex(16)}, salt=_SALT)


def nonce_of(token: str, code_id: UUID) -> str | None:
    """The nonce of a token that was given out for this code and is not too old."""
    try:
        told = signing.loads(token, salt=_SALT, max_age=_OPEN_FOR)
    except signing.BadSignature:
        return None
    return str(told["nonce"]) if told["code"] == str(code_id) else None


@dataclass(slots=True)
class Read:
    """What was sent, and what is wrong with it by field."""

    sent: Mapping[str, str]
    problems: dict[str, str] = field(default_factory=dict)

    def text(self, name: str, longest: int = _LONGEST_TEXT) -> str:
        """A text without the blanks around it; too long a one is a problem."""
        found = self.sent.get(name, "").replace("\r\n", "\n").replace("\x00", "").strip()
        if fault_in_prose(found):
            self.problems[name] = gettext("This holds something that is no text.")
        elif len(found) > longest:
            self.problems[name] = gettext("This is too long.")
        return found[:longest]

    def told_by(self) -> str:
        """The name of whoever tells."""
        name = normal(self.text("told_by", _LONGEST_NAME))
        if not name or fault_in_name(name):
            self.problems["told_by"] = gettext("Write your name as people know it.")
        return name


def read_test(sent: QueryDict, test: DoorTest) -> tuple[Read, list[Answer], str]:
    """The answers to every question of the test, and who gave them."""
    read, answers = Read(sent), []
    for asked in test.asked:
        said = sent.get(asked.key, "")
        reason = read.text(f"reason:{asked.key}", _LONGEST_REASON)
        if said not in ANSWERS:
            read.problems[asked.key] = gettext("Answer this one: yes, no or not tested.")
        elif said == "not_tested" and not reason:
            read.problems[asked.key] = gettext("Say why it was not tested.")
        answers.append(Answer(asked, said, reason if said == "not_tested" else ""))
    return read, answers, read.told_by()


def read_report(sent: QueryDict) -> tuple[Read, Told]:
    """What is heard and seen at a door, and by whom."""
    read = Read(sent)
    said = {key: sent.get(key, "") for key in SEEN}
    for key, word in said.items():
        if word not in (*SEEN[key], NOT_KNOWN):
            read.problems[key] = gettext("Choose one.")
    return read, Told(said, read.told_by(), read.text("words"))
