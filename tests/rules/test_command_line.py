"""`python -m rules`: the contract that outside callers rely on."""

import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from rules.command_line import main
from rules.shapes import NAMES, schema

FACTS = {
    "door_type": "accordion",
    "operation": "power",
    "fire_door": True,
    "means_of_egress": True,
    "accessible_route": False,
    "installed_on": "2019-05-01",
    "occupant_load": 120,
}
OPENING: dict[str, Any] = {"jurisdiction": "us", "facts": FACTS}
VISIT: dict[str, Any] = {
    **OPENING,
    "on": "2026-03-01",
    "activity": "periodic_inspection",
    "readings": [
        {"quantity": "closing_speed", "value": "24", "unit": "in/s"},
        {
            "quantity": "set_in_motion_force",
            "value": "13.6",
            "unit": "kgf",
            "uncertainty": "0.2",
        },
    ],
    "checks": [],
    "sequences": [],
}
OVERRIDE = """
[jurisdiction]
code = "us-invented-town"
parent = "us"
name = "Invented Town"
kind = "city"
[[tighten]]
target = "ibc/special-purpose/set-in-motion"
high = "20 lbf"
from = 2020-01-01
existing_doors = "this_edition"
standing = "verified"
citation = { publication = "Ordinance", edition = "2020", clause = "7" }
"""


class Ran(NamedTuple):
    """How a call ended."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:  # noqa: ANN401 - any JSON
        """The answer."""
        return json.loads(self.out)


Run = Callable[..., Ran]


@pytest.fixture
def run(capsysbinary: pytest.CaptureFixture[bytes]) -> Run:
    """Call the command line in this process."""

    def call(*arguments: object) -> Ran:
        status = main([str(argument) for argument in arguments])
        captured = capsysbinary.readouterr()
        return Ran(status, captured.out.decode(), captured.err.decode())

    return call


@pytest.fixture
def file(tmp_path: Path) -> Callable[..., Path]:
    """Write a document, or raw bytes or text, and give its path."""

    def write(content: object, name: str = "input.json") -> Path:
        path = tmp_path / name
        if isinstance(content, bytes):
            path.write_bytes(content)
        else:
            text = content if isinstance(content, str) else json.dumps(content)
            path.write_text(text, encoding="utf-8")
        return path

    return write


SPEED = "sliding-door-course/closing-speed"
MOTION = "ibc-2018/special-purpose/set-in-motion"


def on(answer: dict[str, Any], requirement: str) -> dict[str, Any]:
    """The one verdict on that requirement."""
    (found,) = [v for v in answer["verdicts"] if v["requirement"] == requirement]
    return found


def test_judge_contract(run: Run, file: Callable[..., Path]) -> None:
    """The visit of the contract: at the limit conforms with margin 0, 13.6 kgf conforms to 30 lbf
    within its uncertainty, each with citation, standing and layer.
    """
    ran = run("judge", file(VISIT))
    assert (ran.status, ran.err) == (0, "")
    assert set(ran.json) >= {"summary", "library", "verdicts", "advisory", "unmatched"}
    speed = on(ran.json, SPEED)
    assert (speed["verdict"], speed["margin"]) == ("conforms", {"value": "0", "unit": "in/s"})
    force = on(ran.json, MOTION)
    assert (force["verdict"], force["band"]) == ("conforms", "conditional")
    assert (force["limit"]["high"], force["limit"]["unit"]) == ("30", "lbf")
    for verdict in ran.json["verdicts"]:
        assert verdict["citation"]["publication"]
        assert verdict["standing"] in {"verified", "secondary"}
        assert verdict["layer"]
    assert set(ran.json["library"]) == {"version", "requirements_digest"}


def test_json_numbers_are_read_as_written(run: Run, file: Callable[..., Path]) -> None:
    """24.000000000000001 as a JSON number is beyond 24, which a binary float would still hide in
    a longer one.
    """
    for number, word in (
        ("24.00", "conforms"),
        ("24.0000000000000000000001", "does_not_conform"),
    ):
        text = json.dumps(VISIT).replace('"24"', number)
        verdict = on(run("judge", file(text)).json, SPEED)
        assert (verdict["verdict"], verdict["reading"]["value"]) == (word, number)


def test_failure_still_exits_with_0(run: Run, file: Callable[..., Path]) -> None:
    """An answer was given, whatever it says."""
    reading = {"quantity": "set_in_motion_force", "value": "31", "unit": "lbf"}
    ran = run("judge", file({**VISIT, "readings": [reading]}))
    assert (ran.status, ran.json["summary"]["verdict"]) == (0, "does_not_conform")


def test_requirements(run: Run, file: Callable[..., Path]) -> None:
    """A list, each with its citation and lineage."""
    ran = run("requirements", file(OPENING), "--on", "2026-03-01")
    assert ran.status == 0
    assert len(ran.json) > 10
    assert all(one["citation"] and one["lineage"] for one in ran.json)


def test_override_is_one_more_layer(run: Run, file: Callable[..., Path]) -> None:
    """An override tried out on the command line sets the limit that decides."""
    override = file(OVERRIDE, "town.toml")
    answer = run("judge", file(VISIT), "--override", override).json
    force = on(answer, MOTION)
    assert (force["verdict"], force["layer"]) == ("does_not_conform", "us-invented-town")
    assert answer["jurisdiction"] == "us-invented-town"


def test_duties(run: Run, file: Callable[..., Path]) -> None:
    """The yearly inspection, with its window and state."""
    history = file([{"activity": "periodic_inspection", "on": "2025-06-15"}], "history.json")
    ran = run("duties", file(OPENING), "--history", history, "--on", "2026-03-01")
    assert ran.status == 0
    (yearly,) = [d for d in ran.json if d["requirement"] == "nfpa-80-2013/inspection/yearly"]
    assert (yearly["due_on"], yearly["last_on"]) == ("2026-06-15", "2025-06-15")


def test_lint(run: Run, file: Callable[..., Path]) -> None:
    """No problem exits with 0; every problem is in the answer and on standard error, and bad."""
    good = run("lint", file(OVERRIDE, "good.toml"))
    assert (good.status, good.json["problems"], good.err) == (0, [], "")
    bad = run("lint", file(OVERRIDE.replace("lbf", "seconds").replace("kind", "sort"), "bad.toml"))
    assert bad.status == 2
    pointers = {problem["pointer"] for problem in bad.json["problems"]}
    assert pointers >= {"/tighten/0/high", "/jurisdiction/sort"}
    assert "bad.toml: /tighten/0/high: " in bad.err


def test_measure(run: Run, file: Callable[..., Path]) -> None:
    """A stopwatch and a tape give a speed."""
    trace = {
        "kind": "stopwatch",
        "travel": {"value": "24", "unit": "ft"},
        "times": ["14.4"],
        "unit": "s",
    }
    ran = run("measure", file(trace))
    assert ran.status == 0
    speeds = [r for r in ran.json["readings"] if r["quantity"] == "closing_speed"]
    assert [(speed["value"], speed["unit"]) for speed in speeds] == [("20", "in/s")]


def test_compare(run: Run, file: Callable[..., Path]) -> None:
    """Two editions, for the doors of each file."""
    files = [file(OPENING, "one.json"), file(OPENING, "two.json")]
    ran = run("compare", "--from", "ibc-2018", "--to", "ibc-2021", "--on", "2026-03-01", *files)
    assert ran.status == 0
    assert [one["file"] for one in ran.json] == [str(path) for path in files]
    assert (
        ran.json[0]["before"]["requirements_digest"] != ran.json[0]["after"]["requirements_digest"]
    )


@pytest.mark.parametrize("name", NAMES)
def test_schema(run: Run, name: str) -> None:
    """Every schema of the contract is printed, and says which draft it is written in."""
    ran = run("schema", name)
    assert ran.status == 0
    assert ran.json["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("verb", ["requirements", "judge"])
def test_explain(run: Run, file: Callable[..., Path], verb: str) -> None:
    """`--explain` gives a page with the numbers, the clauses and the layers, in lines that fit."""
    arguments = ["--on", "2026-03-01"] if verb == "requirements" else []
    ran = run(verb, file(VISIT if verb == "judge" else OPENING), "--explain", *arguments)
    assert ran.status == 0
    assert "30 lbf" in ran.out
    assert "1010.1.4.3" in ran.out
    assert "applies as reference" in ran.out
    assert max(map(len, ran.out.splitlines())) <= 96


def changed(**parts: object) -> dict[str, Any]:
    """The visit with other parts; one that is None is left out."""
    merged = {**VISIT, **parts}
    return {key: value for key, value in merged.items() if value is not None}


def with_value(raw: str) -> str:
    """The text of a visit with one raw JSON value in place of a reading's."""
    return json.dumps(changed(readings=[VISIT["readings"][0]])).replace('"24"', raw)


@pytest.mark.parametrize(
    ("content", "pointer"),
    [
        (with_value("NaN"), "/readings/0/value"),
        (with_value("-Infinity"), "/readings/0/value"),
        (with_value("1e999"), "/readings/0/value"),
        (with_value('"1e999"'), "/readings/0/value"),
        (with_value("-1"), "/readings/0/value"),
        (with_value("9" * 5000), "/readings/0/value"),
        (with_value('"' + "9" * 5000 + '"'), "/readings/0/value"),
        (with_value("true"), "/readings/0/value"),
        (with_value("[]"), "/readings/0/value"),
        (with_value(r'"\u0000"'), "/readings/0/value"),
        (with_value(r'"\ud800"'), "/readings/0/value"),
        (with_value('"24", "value": "25"'), "/readings/0/value"),
        (with_value('"24"').replace("in/s", "lbf"), "/readings/0/unit"),
        (with_value('"24"').replace("in/s", "furlong"), "/readings/0/unit"),
        (changed(facts={**FACTS, "door_type": "trapdoor"}), "/facts/door_type"),
        (changed(facts={**FACTS, "colour": "red"}), "/facts/colour"),
        (changed(facts=None), "/facts"),
        (changed(facts=[]), "/facts"),
        (changed(jurisdiction="atlantis"), "/jurisdiction"),
        (changed(jurisdiction=None), "/jurisdiction"),
        (changed(jurisdiction=5), "/jurisdiction"),
        (changed(on=None), "/on"),
        (changed(on="2026-02-30"), "/on"),
        (changed(activity="annual"), "/activity"),
        (changed(colour="red"), "/colour"),
        (changed(listed_instructions={}), "/listed_instructions"),
        ("[" * 100_000, "/"),
        ('{"a": ' * 40 + "1" + "}" * 40, "/a/a/a"),
        ("{", "/"),
        ("", "/"),
        ("[]", "/"),
        (b"\xff\xfe", "/"),
        (b"\x00", "/"),
    ],
)
def test_bad_input(run: Run, file: Callable[..., Path], content: object, pointer: str) -> None:
    """Bad input ends with status 2 and a line with the file and the place, never with an answer
    or a traceback.
    """
    path = file(content)
    ran = run("judge", path)
    assert (ran.status, ran.out) == (2, "")
    assert any(line.startswith(f"{path}: {pointer}") for line in ran.err.splitlines()), ran.err
    assert "Traceback" not in ran.err


@pytest.mark.parametrize(
    ("trace", "pointer"),
    [
        ({"kind": "travel", "samples": []}, "/"),
        ({"kind": "juggling"}, "/kind"),
        ({}, "/"),
    ],
)
def test_bad_trace(run: Run, file: Callable[..., Path], trace: object, pointer: str) -> None:
    """A trace that cannot be read is refused like any other input."""
    path = file(trace)
    ran = run("measure", path)
    assert (ran.status, ran.out) == (2, "")
    assert f"{path}: {pointer}" in ran.err


def test_bad_history_is_named_in_its_own_file(run: Run, file: Callable[..., Path]) -> None:
    """The pointer leads into the history's own file."""
    history = file([{"activity": "periodic_inspection", "on": "2026-02-30"}], "history.json")
    ran = run("duties", file(OPENING), "--history", history, "--on", "2026-03-01")
    assert ran.status == 2
    assert f"{history}: /0/on: " in ran.err


def test_bad_arguments(run: Run, file: Callable[..., Path], tmp_path: Path) -> None:
    """A day that is none, an edition nobody knows, a file that is not there, a folder."""
    opening, visit = file(OPENING), file(VISIT, "visit.json")
    for arguments, says in (
        (("requirements", opening, "--on", "tomorrow"), "--on"),
        (("compare", "--from", "ibc-1066", "--to", "ibc-2021", opening), "ibc-1066"),
        (("compare", "--from", "2020-99-99", "--to", "ibc-2021", opening), "--from"),
        (("judge", tmp_path / "absent.json"), "absent.json"),
        (("judge", tmp_path), str(tmp_path)),
        (("judge", "nul\0name"), "no such name"),
        (("judge", visit, "--override", file(b"\xff", "x.toml")), "x.toml"),
        (("judge", visit, "--override", file("a = ", "y.toml")), "y.toml"),
    ):
        ran = run(*arguments)
        assert (ran.status, ran.out) == (2, "")
        assert says in ran.err
    for wrong in (["fly"], [], ["schema", "colour"], ["judge"]):
        with pytest.raises(SystemExit) as ended:
            run(*wrong)
        assert ended.value.code == 2


def test_standard_input(
    run: Run, file: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file named `-` is what comes in."""
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(json.dumps(VISIT).encode())))
    assert run("judge", "-").out == run("judge", file(VISIT)).out


def test_everything_that_is_missing_is_named_at_once(run: Run, file: Callable[..., Path]) -> None:
    """An empty object: every field that must be there, and of what is there every mistake."""
    ran = run("judge", file({}))
    assert [line.split(": ")[1] for line in ran.err.splitlines()] == [
        "/jurisdiction",
        "/facts",
        "/on",
        "/activity",
    ]
    wrong = changed(facts={"colour": "red"}, activity="annual", on="2026-W10-1")
    found = {line.split(": ")[1] for line in run("judge", file(wrong)).err.splitlines()}
    assert found == {"/facts/colour", "/activity", "/on"}


def test_what_is_known_is_listed_whole(run: Run, file: Callable[..., Path]) -> None:
    """Somebody who misspells a field is shown all there are."""
    (line,) = run("judge", file(changed(readngs=[]))).err.splitlines()
    known = line.partition("known here: ")[2].partition(" [")[0].split(", ")
    assert set(known) == set(schema("findings")["properties"])


def test_a_visit_before_the_door_was_there(run: Run, file: Callable[..., Path]) -> None:
    """On the day of installation it can be tested, the day before it cannot."""
    assert run("judge", file(changed(on=FACTS["installed_on"]))).status == 0
    ran = run("judge", file(changed(on="2019-04-30")))
    assert (ran.status, ran.out) == (2, "")
    assert "/on: the visit of 2019-04-30 lies before installed_on, 2019-05-01" in ran.err


def test_an_override_for_another_place_is_refused_under_its_own_name(
    run: Run, file: Callable[..., Path]
) -> None:
    """A parent that there is not, and one that does not lie on the way to the opening."""
    opening = file(OPENING)
    for parent, says in (("atlantis", "no place has the code atlantis"), ("us-mn", "not under us")):
        override = file(OVERRIDE.replace('parent = "us"', f'parent = "{parent}"'), "town.toml")
        ran = run("requirements", opening, "--on", "2026-03-01", "--override", override)
        assert (ran.status, ran.out) == (2, "")
        assert ran.err.startswith(f"{override}: /jurisdiction/parent: ")
        assert says in ran.err


def test_an_unknown_place_is_told_which_there_are(run: Run, file: Callable[..., Path]) -> None:
    """A code that is none, with the codes that are."""
    ran = run("requirements", file({**OPENING, "jurisdiction": "usa"}), "--on", "2026-03-01")
    assert "/jurisdiction: no jurisdiction has the code 'usa'; there are: au, ca, " in ran.err


def test_the_place_of_an_override_is_asked_by_its_own_code(
    run: Run, file: Callable[..., Path]
) -> None:
    """Asked by its own code it answers as by its parent's; a code that is none is told of it."""
    town = file(OVERRIDE, "town.toml")
    arguments = ("--on", "2026-03-01", "--override", town)
    by_parent = run("requirements", file(OPENING), *arguments)
    own = file({**OPENING, "jurisdiction": "us-invented-town"}, "own.json")
    ran = run("requirements", own, *arguments)
    assert (ran.status, ran.err, ran.out) == (0, "", by_parent.out)
    assert run("requirements", own, "--on", "2026-03-01").status == 2
    wrong = file({**OPENING, "jurisdiction": "us-invented-twon"}, "wrong.json")
    assert (
        run("requirements", wrong, *arguments)
        .err.rstrip()
        .endswith("us-invented-town [unknown_name]")
    )


def test_editions_of_two_publications_are_not_compared(run: Run, file: Callable[..., Path]) -> None:
    """Nothing in the one answers to anything in the other."""
    ran = run("compare", "--from", "ibc-2018", "--to", "nfpa-80-2013", file(OPENING))
    assert (ran.status, ran.out) == (2, "")
    assert "--to: ibc-2018 and nfpa-80-2013 are editions of two publications" in ran.err


def test_what_lies_after_the_day_is_said_not_to_count(run: Run, file: Callable[..., Path]) -> None:
    """A later visit changes no answer, and standard error says that it was left out."""
    past = [{"activity": "periodic_inspection", "on": "2026-01-01"}]
    later = [{"event": "repair", "on": "2026-03-02"}, *past]
    opening = file(OPENING)
    without = run("duties", opening, "--history", file(past, "past.json"), "--on", "2026-03-01")
    ran = run("duties", opening, "--history", file(later, "later.json"), "--on", "2026-03-01")
    assert (without.err, ran.status, ran.out) == ("", 0, without.out)
    assert "later.json: /0/on: 2026-03-02 is after 2026-03-01" in ran.err
    assert "[not_counted]" in ran.err


def test_a_layer_upon_a_layer(run: Run, file: Callable[..., Path]) -> None:
    """A district under a town that is no packaged place: lint takes the town's document too."""
    town = file(OVERRIDE, "town.toml")
    text = OVERRIDE.replace('"us-invented-town"', '"us-invented-quay"')
    text = text.replace('parent = "us"', 'parent = "us-invented-town"').replace("20 lbf", "25 lbf")
    quay = file(text, "quay.toml")
    assert "/jurisdiction/parent" in run("lint", quay).err
    ran = run("lint", quay, "--override", town)
    assert [problem["code"] for problem in ran.json["problems"]] == ["wrong_direction"]
    assert "20 lbf" in ran.err


def test_lint_remarks_on_whom_a_rule_reaches(run: Run, file: Callable[..., Path]) -> None:
    """Not a mistake: the answer is given with status 0."""
    text = OVERRIDE.replace('existing_doors = "this_edition"\n', "")
    ran = run("lint", file(text, "town.toml"))
    assert (ran.status, ran.err, ran.json["problems"]) == (0, "", [])
    assert [remark["code"] for remark in ran.json["remarks"]] == ["new_doors_only"]


def test_an_opening_has_no_findings(run: Run, file: Callable[..., Path]) -> None:
    """A field that a verb would not read is refused, not passed over."""
    ran = run("requirements", file(VISIT), "--on", "2026-03-01")
    assert ran.status == 2
    assert "/activity: no such field" in ran.err


def test_as_a_program(tmp_path: Path) -> None:
    """Run as a module, from standard input, in a locale that cannot write the answer's letters."""
    root = Path(__file__).parents[2]
    visit = changed(no_access="Tür klemmt", readings=[], checks=[], sequences=[])
    ran = subprocess.run(
        [sys.executable, "-m", "rules", "judge", "-"],
        input=json.dumps(visit).encode(),
        capture_output=True,
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(root), "LC_ALL": "C", "PYTHONUTF8": "0"},
        check=True,
    )
    assert "Tür klemmt" in ran.stdout.decode("utf-8")
    assert json.loads(ran.stdout)["summary"]["verdict"] == "not_tested"


@pytest.mark.parametrize("version", [(3, 10, 13), (3, 14, 0)])
def test_other_pythons_get_one_line(version: tuple[int, int, int]) -> None:
    """A Python that the library does not run on is told so in one line, without a traceback."""
    pretend = f"import runpy, sys; sys.version_info = {(*version, 'final', 0)}"
    ran = subprocess.run(
        [sys.executable, "-c", f"{pretend}; runpy._run_module_as_main('rules')"],
        capture_output=True,
        cwd=Path(__file__).parents[2],
        text=True,
        check=False,
    )
    assert ran.returncode == 1
    assert len(ran.stderr.splitlines()) == 1
    assert "runs on Python 3.11 to 3.13" in ran.stderr
