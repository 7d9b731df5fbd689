"""The whole job over HTTP, step by step: from a town's order to the fire marshal's file."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from inspections.management import aftermath, attendance, filing
from inspections.management.stage import Stage, expect
from inspections.selectors.scenario import override_document, parties

QUARTERLY = "common-practice/quarterly-operation-test"


def walk(stage: Stage) -> bytes:
    """Do the job; answers the bytes of the file that the authority pulled."""
    adopt(stage)
    attendance.find_opening(stage)
    _note_duty(stage, "duty_before")
    attendance.inspect(stage)
    aftermath.protect(stage)
    stage.say.step("The owner is told at once")
    aftermath.tell_owner(stage, stage.seen["visit"]["id"], "the failed test")
    aftermath.mend(stage)
    attendance.retest(stage)
    aftermath.tell_owner(stage, stage.seen["retest"]["id"], "the proven repair")
    _show_duty(stage)
    filing.assemble(stage)
    filing.file_it(stage)
    aftermath.tell_owner(stage, stage.seen["filing"]["id"], "the filing")
    content = filing.pull(stage)
    filing.ask_seal(stage)
    filing.verify_ledger(stage)
    return content


def adopt(stage: Stage) -> None:
    """The town adopts the quarterly operation test from today on; its duties are settled."""
    town = parties().jurisdiction
    today = datetime.fromisoformat(stage.ago(0)).date()
    stage.say.step(f"{town.name} adopts the quarterly operation test, from {today} on")
    draft = {
        "jurisdiction": town.code,
        "title": "Quarterly operation test of power-operated accordion doors",
        "document": override_document(today),
    }
    override = stage.authority.post("/v1/overrides", draft)
    published = stage.authority.post(f"/v1/overrides/{override['id']}/publication", expect=200)
    expect(published["published_at"], "the override was not published")
    duties = stage.until("the duties of the town", lambda: _quarterly(stage) or None)
    stage.seen["override"] = published
    stage.say.line(f"{len(duties)} openings owe it now; the first is due on {duties[0]['due_on']}")


def _quarterly(stage: Stage) -> list[dict[str, Any]]:
    return [d for d in stage.firm.every("/v1/duties") if d["requirement"] == QUARTERLY]


def _note_duty(stage: Stage, name: str) -> None:
    """Keep the windows of the door's periodic duties as they stand now."""
    opening = stage.seen["opening"]
    duties = stage.owner.every("/v1/duties", site=opening["site"])
    stage.seen[name] = {
        d["requirement"]: {k: d[k] for k in ("opens_on", "due_on", "closes_on", "state")}
        for d in duties
        if d["opening"] == opening["id"] and d["state"] != "ended"
    }


def _show_duty(stage: Stage) -> None:
    stage.say.step("The duties of the door have moved")
    _note_duty(stage, "duty_after")
    for requirement, after in stage.seen["duty_after"].items():
        before = stage.seen["duty_before"].get(requirement)
        if before is None:
            stage.say.line(f"{requirement}: new, due {after['due_on']}")
            continue
        expect(after["due_on"] > before["due_on"], f"{requirement} has not moved")
        stage.say.line(
            f"{requirement}: due {before['due_on']} ({before['state']}) before,"
            f" {after['due_on']} ({after['state']}) now"
        )
