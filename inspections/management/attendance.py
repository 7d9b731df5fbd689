"""The inspection firm at the door: it reads what is asked, measures, and sends what it found."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from inspections.management.checklist import (
    Requirement,
    answers,
    asked_after,
    asked_in,
    cautions_of,
)
from inspections.management.history import instruments_on, people_on
from inspections.management.stage import Stage, expect
from inspections.selectors.packets import CAUTIONS
from inspections.selectors.scenario import trace

_WORST_FIRST = ("does_not_conform", "inconclusive", "not_tested", "conforms", "not_applicable")


def find_opening(stage: Stage) -> None:
    """The firm reads who it is, finds the door by its tag, and reads what applies to it."""
    firm = stage.firm.get("/v1/me")["organization"]["name"]
    tag = stage.plan["opening"]
    stage.say.step(f"{firm} finds opening {tag} by its tag and reads what applies")
    found = stage.firm.get("/v1/openings", tag=tag)["data"]
    expect(len(found) == 1, f"the tag {tag} finds {len(found)} openings, not one")
    stage.seen["opening"] = stage.firm.get(f"/v1/openings/{found[0]['id']}")
    applies = stage.firm.get(f"/v1/openings/{found[0]['id']}/requirements")
    stage.seen["requirements"] = applies["requirements"]
    asked = asked_in(applies["requirements"], "periodic_inspection")
    stage.say.line(
        f"{found[0]['location']}: {len(applies['requirements'])} requirements apply on"
        f" {applies['on']}, {len(asked)} of them are looked at in a periodic inspection"
    )


def inspect(stage: Stage) -> None:
    """The visit that finds one reading outside its limit; sent twice, recorded once."""
    stage.say.step("Before the door is operated")
    asked = asked_in(stage.seen["requirements"], "periodic_inspection")
    for words in (*CAUTIONS[:-1], *cautions_of(asked)):
        stage.say.caution(words)
    stage.say.step("The firm sends the visit: three pulls, a travel trace, battery, sequences")
    body = _visit_body(stage, asked)
    reference = body["client_ref"]
    visit = stage.firm.post("/v1/visits", body, once=reference)
    again = stage.firm.post("/v1/visits", body, once=reference)
    expect(again == visit, "the same visit sent twice was not answered alike")
    stage.seen["visit"] = visit
    _tell_verdicts(stage, visit)
    expect(visit["verdict"] == "does_not_conform", f"the visit came out {visit['verdict']}")
    expect(len(visit["found"]) == 1, f"{len(visit['found'])} deficiencies opened, not one")


def _visit_body(stage: Stage, asked: list[Requirement]) -> dict[str, Any]:
    plan = stage.plan["visit"]
    at = stage.ago(plan["minutes_ago"])
    on_test, off_test = stage.ago(plan["minutes_ago"] + 15), stage.ago(plan["minutes_ago"] - 10)
    return {
        **_header(stage, "periodic_inspection", at),
        "readings": plan["reading"],
        **answers(asked, {}),
        "traces": [trace("closing_travel.json")],
        "alarm_log": {**plan["alarm_log"], "on_test_at": on_test, "off_test_at": off_test},
        "remarks": plan["remarks"],
    }


def _header(stage: Stage, activity: str, at: str) -> dict[str, Any]:
    on = datetime.fromisoformat(at).date()
    people = people_on(on, on)
    return {
        "opening": stage.seen["opening"]["id"],
        "client_ref": f"{stage.plan['opening']}/{at}/{activity}",
        "activity": activity,
        "performed_at": at,
        "attestation": {"name": people[0]["name"], "at": at},
        "people": people,
        "instruments": instruments_on(on, on),
    }


def _tell_verdicts(stage: Stage, visit: dict[str, Any]) -> None:
    judgement = visit["judgement"]
    for verdict in sorted(judgement["verdicts"], key=lambda v: _WORST_FIRST.index(v["verdict"])):
        words = verdict["verdict"].replace("_", " ")
        clause = verdict["citation"]["clause"]
        stage.say.line(f"{words}: {verdict['requirement']} ({clause}) {verdict['message']}")
    stage.say.line(f"Common practice noted beside them: {len(judgement['advisory'])}.")
    stage.say.line(judgement["summary"]["says"])


def retest(stage: Stage) -> None:
    """What depends on the mended part, tried again: only this proves the repair."""
    plan = stage.plan["retest"]
    quantities = {reading["quantity"] for reading in plan["reading"]}
    mended = stage.plan["repair"]["mended"]
    asked = asked_after(stage.seen["requirements"], mended, quantities)
    stage.say.step(f"The firm tests again what depends on the {' and the '.join(mended)}")
    for words in cautions_of(asked):
        stage.say.caution(words)
    minutes = plan["minutes_ago"]
    body = {
        **_header(stage, "repair_retest", stage.ago(minutes)),
        "readings": plan["reading"],
        **answers(asked, {}),
        "alarm_log": {
            **stage.plan["visit"]["alarm_log"],
            "on_test_at": stage.ago(minutes + 10),
            "off_test_at": stage.ago(minutes - 1),
        },
    }
    visit = stage.firm.post("/v1/visits", body, once=body["client_ref"])
    stage.seen["retest"] = visit
    _tell_verdicts(stage, visit)
    expect(visit["verdict"] == "conforms", f"the retest came out {visit['verdict']}")
    expect(len(visit["proved"]) == 1, f"{len(visit['proved'])} deficiencies proven, not one")
