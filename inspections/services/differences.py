"""Where the service judges a visit otherwise than the app did offline, and why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import rules
from inspections.selectors.requirements import Applicable
from rules.canonical import digest


def difference_of(
    judged_with: Mapping[str, Any] | None, applying: Applicable, judgement: Mapping[str, Any]
) -> dict[str, Any] | None:
    """Return the difference, ready for JSON; None where the app judged nothing.

    Requirements and verdicts are compared as far as the app sent its own.
    """
    if judged_with is None:
        return None
    digests = {
        "yours": judged_with["requirements_digest"],
        "ours": applying.requirements.digest,
    }
    library = {"yours": judged_with["library"], "ours": rules.__version__}
    found = _requirements(judged_with, applying) | {"verdicts": _verdicts(judged_with, judgement)}
    alike = digests["yours"] == digests["ours"] and library["yours"] == library["ours"]
    same = alike and not any(found.values())
    return {
        "same": same,
        "words": _words(found, digests, library, judged="verdicts" in judged_with),
        "requirements_digest": digests,
        "library": library,
        **found,
    }


def _requirements(judged_with: Mapping[str, Any], applying: Applicable) -> dict[str, list[str]]:
    """Return which requirements changed, as far as the app says which it holds."""
    ours = {item.requirement.id: digest([item]) for item in applying.requirements.items}
    held = judged_with.get("requirements")
    if held is None:
        return {"changed": [], "only_ours": [], "only_yours": []}
    yours = {each["requirement"]: each["digest"] for each in held}
    return {
        "changed": sorted(name for name in ours.keys() & yours if ours[name] != yours[name]),
        "only_ours": sorted(ours.keys() - yours),
        "only_yours": sorted(yours.keys() - ours),
    }


def _verdicts(judged_with: Mapping[str, Any], judgement: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return each requirement whose verdict is another, or was given by one of the two alone."""
    if "verdicts" not in judged_with:
        return []
    ours = {each["requirement"]: each for each in judgement["verdicts"] + judgement["advisory"]}
    yours = {each["requirement"]: each["verdict"] for each in judged_with["verdicts"]}
    differing = []
    for name in sorted(ours.keys() | yours):
        here = ours.get(name)
        word = here["verdict"] if here else None
        if word != yours.get(name):
            message = here["message"] if here else ""
            differing.append(
                {"requirement": name, "yours": yours.get(name), "ours": word, "message": message}
            )
    return differing


def _words(
    found: Mapping[str, list[Any]],
    digests: Mapping[str, str],
    library: Mapping[str, str],
    *,
    judged: bool,
) -> str:
    said = []
    if digests["yours"] != digests["ours"]:
        said.append("The service judged by other requirements than the app did")
        counts = {
            "changed": "say something else here",
            "only_ours": "apply here alone",
            "only_yours": "apply no longer or not here",
        }
        said += [f"{len(found[name])} {words}" for name, words in counts.items() if found[name]]
    if library["yours"] != library["ours"]:
        said.append(f"the library here is {library['ours']}, the app's {library['yours']}")
    if found["verdicts"]:
        said.append(f"{len(found['verdicts'])} verdicts differ; the service's are the record")
    if said:
        return "; ".join(said) + "."
    if judged:
        return "The service judged as the app did."
    return "The service judged by what the app holds; the app sent no verdicts to compare."
