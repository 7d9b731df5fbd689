"""What follows a failed test: people are protected, the owner is told, the door is mended."""

from __future__ import annotations

from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

from inspections.management.stage import Stage, expect


def protect(stage: Stage) -> None:
    """An interim measure that would block a way out is refused; a person is posted instead."""
    deficiency = stage.firm.get(f"/v1/deficiencies/{stage.seen['visit']['found'][0]['id']}")
    address = f"/v1/deficiencies/{deficiency['id']}/interim-measures"
    stage.say.step(f"A deficiency is open: {deficiency['title']}. {deficiency['words']}")
    refused, begins_at = stage.plan["refused"], stage.ago(stage.plan["visit"]["minutes_ago"] - 5)
    problem = stage.firm.post(address, {**refused, "begins_at": begins_at}, expect=422)
    where = ", ".join(error["pointer"] for error in problem["errors"])
    stage.say.line(f"Securing it shut is refused: {problem['detail']} ({where})")
    plan = dict(stage.plan["interim"])
    ends_at = stage.ago(-24 * 60 * plan.pop("days"))
    deficiency = stage.firm.post(address, {**plan, "begins_at": begins_at, "ends_at": ends_at})
    expect(deficiency["guarded"], "the interim measure is not in force")
    stage.say.line(f"Until the repair is proven: {plan['words']}")


def tell_owner(stage: Stage, thing: str, of: str) -> None:
    """Wait until everybody the owner names was told, and find each mail."""
    notices = stage.until(f"the notices of {of}", lambda: _sent(stage, thing))
    for notice in notices:
        mail = stage.until("the mail", lambda: _mail(stage.mailbox, notice["delivery"]))  # noqa: B023
        stage.say.line(f"{notice['person']} was told: {mail['Subject']}")


def _sent(stage: Stage, thing: str) -> list[dict[str, Any]] | None:
    found = [n for n in stage.owner.every("/v1/notices") if n["thing"] == thing]
    expect(all(n["state"] != "not_deliverable" for n in found), "a notice was not deliverable")
    return found if found and all(n["state"] == "sent" for n in found) else None


def _mail(mailbox: Path, delivery: str) -> EmailMessage | None:
    for path in sorted(mailbox.glob("*.eml")):
        mail = message_from_bytes(path.read_bytes(), policy=policy.default)
        if delivery in mail["Message-ID"]:
            return mail
    return None


def mend(stage: Stage) -> None:
    """The owner's own people mend the door; it is repaired then, and proven by nothing yet."""
    plan = dict(stage.plan["repair"])
    body = {"done_at": stage.ago(plan["minutes_ago"])}
    body |= {name: plan[name] for name in ("done_by", "words", "parts")}
    found = stage.seen["visit"]["found"][0]["id"]
    stage.say.step(f"The owner records the repair: {plan['words']}")
    deficiency = stage.owner.post(f"/v1/deficiencies/{found}/repairs", body)
    expect(deficiency["state"] == "repaired", f"it is {deficiency['state']}, not repaired")
    stage.say.line("It is repaired, and proven by nothing yet.")
