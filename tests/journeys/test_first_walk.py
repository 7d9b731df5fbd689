"""The first walk over HTTP: from a force gauge to the fire marshal's file."""

from __future__ import annotations

import hashlib
import json
from contextlib import closing
from datetime import date
from email import message_from_bytes, policy
from typing import Any

import pytest

from doors.models import Opening, Organization
from doors.tenancy import Purpose, acting_for, looking_up
from inspections.management.client import Client, UnexpectedAnswer
from inspections.management.stage import Stage
from inspections.management.summary import summarize
from inspections.management.walk import QUARTERLY, walk
from inspections.models import Deficiency, Duty, Visit
from rules.intervals import add, parse_period

pytestmark = pytest.mark.django_db(transaction=True)

YEARLY = "nfpa-80-2013/inspection/yearly"


def test_the_first_walk(stage: Stage) -> None:
    """A failed reading opens a deficiency, a retest proves the repair, the record is filed."""
    pulled = walk(stage)
    visit = stage.firm.get(f"/v1/visits/{stage.seen['visit']['id']}")
    retest = stage.firm.get(f"/v1/visits/{stage.seen['retest']['id']}")
    the_visit_is_judged_with_sources(visit)
    the_deficiency_is_proven(stage, visit, retest)
    the_duties_have_moved(stage, visit)
    everybody_was_told(stage)
    the_ledger_tells_it_in_order(stage, visit, retest)
    the_file_is_what_was_filed(stage, pulled)
    nobody_sees_what_is_not_theirs(stage)
    the_summary_is_what_the_tables_hold(stage)


def the_visit_is_judged_with_sources(visit: dict[str, Any]) -> None:
    """One reading is outside its limit; the others, the trace among them, are inside."""
    binding = {v["requirement"]: v for v in visit["judgement"]["verdicts"]}
    failed = [v for v in binding.values() if v["verdict"] == "does_not_conform"]
    assert {v["quantity"] for v in failed} == {"set_in_motion_force"}
    assert {v["margin"]["value"] for v in failed} == {"-3.4"}
    assert {v["reading"]["value"] for v in failed} == {"33.4"}
    assert "International Building Code" in {v["citation"]["publication"] for v in failed}
    untested = [v["quantity"] for v in binding.values() if v["verdict"] == "not_tested"]
    assert untested == ["lateral_load_opening_force"]
    assert all(v["citation"]["clause"] and v["standing"] for v in binding.values())
    speeds = [v for v in binding.values() if v.get("quantity") == "closing_speed"]
    assert {v["verdict"] for v in speeds} == {"conforms"}
    assert {9.3 < float(v["reading"]["value"]) < 9.5 for v in speeds} == {True}  # 240 in, 25.6 s
    assert (visit["verdict"], visit["complete"]) == ("does_not_conform", True)


def the_deficiency_is_proven(stage: Stage, visit: dict[str, Any], retest: dict[str, Any]) -> None:
    """Guarded by a person while open, mended, and proven by the retest alone."""
    deficiency = stage.owner.get(f"/v1/deficiencies/{visit['found'][0]['id']}")
    assert (deficiency["state"], deficiency["guarded"]) == ("proven", False)
    assert [m["kind"] for m in deficiency["interim_measures"]] == ["attendant"]
    assert [r["parts"][0]["words"] for r in deficiency["repairs"]] == ["track roller"]
    assert (deficiency["found_by"], deficiency["proven_by"]) == (visit["id"], retest["id"])
    assert retest["verdict"] == "conforms"


def the_duties_have_moved(stage: Stage, visit: dict[str, Any]) -> None:
    """A complete inspection meets quarter and year, whatever its verdict; a retest neither."""
    duties = {
        d["requirement"]: d
        for d in stage.owner.every("/v1/duties")
        if d["opening"] == visit["opening"]
    }
    day = date.fromisoformat(visit["performed_on"])
    assert duties[QUARTERLY]["due_on"] == add(day, parse_period("P3M")).isoformat()
    assert duties[YEARLY]["due_on"] == add(day, parse_period("P1Y")).isoformat()
    assert duties[QUARTERLY]["layer"] == "us-cindermere"


def everybody_was_told(stage: Stage) -> None:
    """Each of the owner's two people got one mail of each stage, and nobody else any; reminders
    of what else is due wait for their hour, gathered in one more mail for each.
    """
    every = list(stage.owner.every("/v1/notices"))
    reminders = [n for n in every if n["stage"] in {"before_due", "due", "overdue"}]
    notices = [n for n in every if n not in reminders]
    assert {n["state"] for n in notices} == {"sent"}
    assert {n["state"] for n in reminders} <= {"sent", "waiting"}
    gathered = {(n["delivery"], n["person"]) for n in reminders}
    assert len(gathered) == len({person for _, person in gathered})
    told = sorted((n["stage"], n["person"]) for n in notices)
    people = ["Jonas Tallowby", "Ottoline Fennimore"]
    stages = ["repair_proven", "submittal_filed", "test_failed"]
    assert told == [(stage_, person) for stage_ in stages for person in people]
    mails = [
        message_from_bytes(path.read_bytes(), policy=policy.default)
        for path in stage.mailbox.glob("*.eml")
    ]
    due = {n["delivery"] for n in reminders if n["state"] == "sent"}
    theirs = [m for m in mails if str(m["To"]).endswith("@lantern-hall.example")]
    assert len(theirs) == len(notices) + len(due)
    others = [m for m in mails if m not in theirs]
    assert all("due" in m["Subject"] for m in others)  # of doors of their own
    failed = next(m for m in mails if "did not conform" in m["Subject"])
    plain = failed.get_body(("plain",))
    assert plain is not None
    assert "33.4 lbf" in plain.get_content()


def the_ledger_tells_it_in_order(
    stage: Stage, visit: dict[str, Any], retest: dict[str, Any]
) -> None:
    """What happened that day stands in the owner's chain, in its order, with its digests."""
    entries = [json.loads(e["body"]) for e in stage.owner.every("/v1/ledger")]
    begun = next(n for n, e in enumerate(entries) if e["subject"] == visit["id"])
    assert [e["kind"] for e in entries[begun:]] == [
        "visit_recorded",
        "deficiency_open",
        "interim_measure_recorded",
        "repair_recorded",
        "visit_recorded",
        "deficiency_proven",
        "submittal_assembled",
        "submittal_filed",
    ]
    assert entries[begun]["content"]["content_sha256"] == visit["content_sha256"]
    assert entries[begun + 4]["subject"] == retest["id"]


def the_file_is_what_was_filed(stage: Stage, pulled: bytes) -> None:
    """One PDF, the same bytes for the authority, the record and the public seal."""
    assert pulled.startswith(b"%PDF-")
    digest = hashlib.sha256(pulled).hexdigest()
    submittal = stage.firm.get(f"/v1/submittals/{stage.seen['submittal']['id']}")
    assert submittal["file_sha256"] == digest
    assert submittal["counts"]["says"] == "5 of 6 openings; 1 not accessed"
    assert stage.stranger.get(f"/v1/seals/{digest}")["filed_with"].startswith("Cindermere")


def nobody_sees_what_is_not_theirs(stage: Stage) -> None:
    """The other owner sees its own three doors; the authority what was filed, and no visit."""
    with closing(Client(stage.address, stage.keys["second_owner"])) as other:
        assert {o["tag"] for o in other.every("/v1/openings")} == {"SL-301", "SL-302", "SL-303"}
        other.get(f"/v1/openings/{stage.seen['opening']['id']}", expect=404)
    with pytest.raises(UnexpectedAnswer, match="scope_missing"):
        list(stage.authority.every("/v1/visits"))
    assert [s["id"] for s in stage.authority.every("/v1/submittals")] == [
        stage.seen["submittal"]["id"]
    ]


def the_summary_is_what_the_tables_hold(stage: Stage) -> None:
    """Each count read over HTTP equals the rows that the firm has in sight."""
    seen = summarize(stage)["firm_sees"]
    with looking_up(Purpose.SET_UP):
        firm = Organization.objects.get(name="Quillfeather Example Door Inspections")
    with acting_for(firm.id, write=False):
        assert seen["openings"]["all"] == Opening.objects.count() == 12
        assert seen["openings"] == {
            "all": 12,
            "accordion": 4,
            "horizontal_sliding": 2,
            "rolling": 2,
            "service_counter": 1,
            "swinging": 3,
        }
        assert seen["visits"]["all"] == Visit.objects.count()
        words = {"does_not_conform": 3, "not_tested": 1}  # no access to one opening
        assert seen["visits"] == {"all": 61, "conforms": 57, **words}
        assert seen["duties"]["all"] == Duty.objects.count()
        assert seen["deficiencies"] == {"all": 3, "open": 1, "proven": 2}
        assert Deficiency.objects.count() == 3
