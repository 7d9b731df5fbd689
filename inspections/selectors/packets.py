"""The frozen packet document: everything a submittal says, gathered once, in plain JSON values.

What is drawn or sent later comes from this document alone. Times are texts, decimals are texts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any
from uuid import UUID

import rules
from doors.models import Jurisdiction, Opening, Site
from doors.selectors.organizations import acting_party
from doors.selectors.sight import sight_of
from doors.tenancy import current
from inspections.models import Verdict
from inspections.selectors.exceptions import exceptions_of
from inspections.selectors.sheets import Beside, instant_text, opening_sheet

CAUTIONS = (
    (
        "Operating a fire door can hurt people: keep hands, feet and clothing clear of its edge, "
        "its folds and its pocket, and never stand in the opening to test it."
    ),
    (
        "Tell the building, the monitoring company and whoever else must know before a test, and "
        "restore and confirm afterwards. A real fire during a test: stop, and call for help."
    ),
    "Never leave a way out blocked. A door in a means of egress may not be secured shut.",
    "Mains and battery are two sources of power; isolating both is work for qualified people.",
    (
        "This record says what was measured against which requirement. The local code, the "
        "authority having jurisdiction and licensed practice decide what that means."
    ),
)
HOW_TO_VERIFY = (
    "Compute the SHA-256 of the file as you received it, for example with: sha256sum FILE",
    (
        "Ask the address above, or the same with the digest of your file at its end. It answers "
        "when a file of exactly these bytes was filed, by whom, with whom, and what became of it."
    ),
    (
        "The digest printed here is that of the content: the frozen record from which the file was "
        "drawn, as canonical JSON (RFC 8785). It stands in the ledger of the owner."
    ),
)


def packet_document(
    site: Site, *, packet_id: UUID, jurisdiction: Jurisdiction, verify_url: str, beside: Beside
) -> dict[str, Any]:
    """The document of one site as it stands now, addressed to a jurisdiction's authority.

    It lacks the digest of its own content, which is computed over what this returns.
    """
    sheets = [opening_sheet(o, site, beside) for o in _openings(site)]
    visits = [v for sheet in sheets for v in sheet["visits"]]
    place = {"code": jurisdiction.code, "name": jurisdiction.name}
    return {
        "packet": _packet(packet_id),
        "authority": {"name": jurisdiction.authority_name, "jurisdiction": place},
        "owner": {"name": sight_of(site.id, "submit").custodian_name},
        "site": {
            "name": site.name,
            "address": site.address,
            "time_zone": site.time_zone,
            "ref": site.reference,
        },
        "coverage": coverage(sheets),
        "counts": _counts(visits),
        "rules": rules_in_force(visits),
        "exceptions": [e for sheet in sheets for e in exceptions_of(sheet)],
        "openings": sheets,
        "organizations": _unique(v.pop("party") for v in visits),
        "people": _unique(p for v in visits for p in v["people"]),
        "instruments": _unique(i for v in visits for i in v["instruments"]),
        "cautions": list(CAUTIONS),
        "verify": {"url": verify_url, "how": list(HOW_TO_VERIFY)},
    }


def coverage(sheets: list[dict[str, Any]]) -> dict[str, Any]:
    """How many of the site's openings the packet holds a visit of, and why not the others."""
    absent = [{"opening": s["tag"], "reason": _absence(s)} for s in sheets if _absence(s)]
    reasons = Counter(a["reason"] for a in absent)
    says = f"{len(sheets) - len(absent)} of {len(sheets)} openings"
    if reasons:
        says += "; " + ", ".join(f"{n} {reason}" for reason, n in sorted(reasons.items()))
    return {
        "openings": len(sheets),
        "included": len(sheets) - len(absent),
        "not_included": absent,
        "says": says,
    }


def _absence(sheet: dict[str, Any]) -> str:
    if not sheet["visits"]:
        return "not visited"
    return "" if any(_accessed(v) for v in sheet["visits"]) else "not accessed"


def _accessed(visit: dict[str, Any]) -> bool:
    return any(v.get("reason") != "no_access" for v in visit["verdicts"])


def _openings(site: Site) -> list[Opening]:
    rows = Opening.objects.filter(site=site, removed_on=None).select_related("site")
    return list(rows.order_by("tag", "id"))


def _packet(packet_id: UUID) -> dict[str, Any]:
    author = acting_party()
    return {
        "id": str(packet_id),
        "version": 1,
        "supersedes": None,
        "language": "en",
        "assembled_at": instant_text(current().now),
        "assembled_by": author.name,
        "library": {"version": rules.__version__},
        "demonstration": author.demonstration,
    }


def _counts(visits: list[dict[str, Any]]) -> dict[str, int]:
    words = Counter(v["summary"]["verdict"] for v in visits)
    return {word.value: words[word.value] for word in Verdict}


_OWN = "the door's own listed instructions"


def rules_in_force(visits: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """By place: the editions and overrides that these visits were judged by."""
    places: dict[str, dict[str, Any]] = {}
    for visit in visits:
        basis = visit.pop("basis")
        names = {j["code"]: j["name"] for j in basis["jurisdictions"]}
        for verdict in visit["verdicts"]:
            place = places.setdefault(
                verdict["layer"], _place(verdict, names.get(verdict["layer"], _OWN))
            )
            cited = verdict["citation"]
            applied = verdict["applied_edition"] or cited["edition"]
            edition = {"publication": cited["publication"], "edition": applied}
            if edition not in place["editions"]:
                place["editions"].append(edition)
        for override in basis["overrides"]:
            _add_override(places, names, override)
    return [places[code] for code in sorted(places)]


def _place(verdict: dict[str, Any], name: str) -> dict[str, Any]:
    return {
        "place": verdict["layer"],
        "name": name,
        "adoption": verdict["adoption"],
        "editions": [],
        "overrides": [],
    }


def _add_override(
    places: dict[str, dict[str, Any]], names: dict[str, str], override: dict[str, Any]
) -> None:
    code = override["jurisdiction"]
    known = {"place": code, "name": names[code], "adoption": "recorded"}
    place = places.setdefault(code, known | {"editions": [], "overrides": []})
    said = {
        "title": override["title"],
        "begins_on": override["begins_on"],
        "citation": {"publication": override["title"], "edition": override["begins_on"]},
    }
    if said not in place["overrides"]:
        place["overrides"].append(said)


def _unique(items: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    return list({str(sorted(item.items(), key=str)): item for item in items}.values())
