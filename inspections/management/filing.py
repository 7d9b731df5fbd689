"""From the record of a building to the fire marshal's file, and the proofs that it is the same."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from inspections.management.stage import Stage, expect

FIRST = "0" * 64  # what the first entry of a ledger names as the one before it


def assemble(stage: Stage) -> None:
    """The firm asks for the packet of the building; a worker draws it."""
    site = stage.firm.get(f"/v1/sites/{stage.seen['opening']['site']}")
    stage.say.step(f"The firm has the submittal of {site['name']} assembled")
    asked = stage.firm.post("/v1/submittals", {"site": site["id"]}, expect=202)
    job = stage.until("the submittal", lambda: done(stage.firm.get(f"/v1/jobs/{asked['id']}")))
    submittal = stage.firm.get(f"/v1/submittals/{job['result']['submittal']}")
    stage.seen["submittal"] = submittal
    stage.say.line(f"{submittal['counts']['says']}, {submittal['file_size']} bytes")


def done(job: dict[str, Any]) -> dict[str, Any] | None:
    """The job once it is done; ends the demonstration where it failed."""
    expect(job["state"] != "failed", f"the job {job['kind']} failed: {job['problem']}")
    return job if job["state"] == "done" else None


def file_it(stage: Stage) -> None:
    """The firm files the packet with the authority of the place."""
    submittal = stage.seen["submittal"]["id"]
    stage.say.step("The firm files it")
    stage.seen["filing"] = stage.firm.post(f"/v1/submittals/{submittal}/filings")
    stage.say.line(f"Filed with {stage.seen['filing']['authority']}")


def pull(stage: Stage) -> bytes:
    """The authority follows its feed, fetches the file with its own key, and compares digests."""
    stage.say.step("The authority pulls what was filed to it, with its own key")
    feed = stage.authority.get("/v1/submittals/changes", after="0")
    submittal = stage.seen["submittal"]["id"]
    expect([c["submittal"] for c in feed["data"]] == [submittal], "the feed is not the one filing")
    on_record = stage.authority.get(f"/v1/submittals/{submittal}")["file_sha256"]
    content = stage.authority.file(f"/v1/submittals/{submittal}/file")
    digest = hashlib.sha256(content).hexdigest()
    expect(digest == on_record, f"the file's SHA-256 is {digest}, on record is {on_record}")
    stage.say.line(f"SHA-256 of what came = on record = {digest}")
    return content


def ask_seal(stage: Stage) -> None:
    """Anybody, without a key, may ask whether these bytes were filed."""
    stage.say.step("A stranger asks whether a file of these bytes was filed")
    digest = stage.seen["submittal"]["file_sha256"]
    seal = stage.stranger.get(f"/v1/seals/{digest}")
    expect(seal["submittal"] == stage.seen["submittal"]["id"], "the seal is another submittal's")
    stage.stranger.get(f"/v1/seals/{FIRST}", expect=404)
    stage.seen["seal"] = seal
    stage.say.line(f"Yes: by {seal['filed_by']} with {seal['filed_with']}, {seal['state']}.")


def verify_ledger(stage: Stage) -> None:
    """The owner checks its chain: as the service says, and by its own reckoning."""
    stage.say.step("The owner verifies its ledger, and reckons the chain itself")
    verified = stage.owner.get("/v1/ledger/verification")
    entries = list(stage.owner.every("/v1/ledger", limit="200"))
    previous = FIRST
    for entry in entries:
        body = json.loads(entry["body"])
        expect(body["previous"] == previous, f"entry {entry['position']} does not follow")
        previous = hashlib.sha256(entry["body"].encode()).hexdigest()
        expect(previous == entry["entry_sha256"], f"entry {entry['position']} was altered")
    expect(verified["intact"] and verified["entries"] == len(entries), "the ledger is not intact")
    filed = [json.loads(e["body"]) for e in entries if e["kind"] == "submittal_filed"]
    digests = [line["content"]["file_sha256"] for line in filed]
    expect(digests == [stage.seen["submittal"]["file_sha256"]], "the filing is not in the ledger")
    stage.say.line(f"{len(entries)} entries, each one follows the one before it.")
