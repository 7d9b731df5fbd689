"""`python -m rules VERB ...`: one JSON answer on standard output, diagnostics on standard error.

Exit status 0 when an answer was given, whatever it says; 2 for bad input, then every line on
standard error names the file and the JSON Pointer (or the place in a TOML text) and says why.
A file named `-` is standard input.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, date, datetime
from typing import Any, NamedTuple

import rules
from rules.comparing import refuse_strangers, under
from rules.documents import (
    FileRefusedError,
    every_mistake,
    read_document,
    read_layer_files,
    read_text,
)
from rules.errors import InputError, Problem, RuleError, UnknownNameError
from rules.explain import explain_answer, explain_requirements
from rules.facts import check_facts, read_day
from rules.history import not_counted
from rules.judging.findings import FIELDS, read_findings
from rules.lint import lint_remarks
from rules.model import RequirementSet
from rules.planning.page import explain_plan
from rules.shapes import NAMES, schema
from rules.vocabulary import Activity


class Output(NamedTuple):
    """What a verb gives: a value for JSON or a page of text, and the exit status."""

    answer: object
    status: int = 0


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one verb and say how it ended; argparse itself ends a wrong call with status 2."""
    asked = _parser().parse_args(arguments)
    try:
        output: Output = asked.verb(asked)
    except RuleError as refused:
        _write(sys.stderr, str(refused))
        return 2
    text = output.answer
    if not isinstance(text, str):
        text = json.dumps(text, indent=2, ensure_ascii=False)
    _write(sys.stdout, text)
    return output.status


def _write(stream: Any, text: str) -> None:  # noqa: ANN401 - a text stream with its buffer
    """Write UTF-8 whatever the locale; a reader that has gone away is no error of ours."""
    with suppress(BrokenPipeError):
        stream.buffer.write(f"{text.rstrip()}\n".encode(errors="backslashreplace"))
        stream.buffer.flush()


# --- the verbs -------------------------------------------------------------------------------


def _requirements(asked: argparse.Namespace) -> Output:
    document = read_document(asked.facts)
    on, layers = _day(asked.on), read_layer_files(asked.override)
    with document.refusing(), _laid(asked.override):
        document.only()
        held = rules.requirements(**document.opening(), on=on, layers=layers)
    if asked.explain:
        return Output(explain_requirements(held))
    return Output([rules.requirement_json(item) for item in held.items])


def _judge(asked: argparse.Namespace) -> Output:
    document = read_document(asked.findings)
    layers = read_layer_files(asked.override)
    with document.refusing(), _laid(asked.override):
        document.only(("on", "activity"), sorted(FIELDS))
        every_mistake(
            lambda: check_facts(document.data["facts"]),
            lambda: read_findings(document.rest(), date.min),
        )
        on = read_day(document.data["on"], "/on")
        held = rules.requirements(**document.opening(), on=on, layers=layers)
        answer = rules.judge(held, document.rest())
    return Output(explain_answer(answer) if asked.explain else answer)


def _plan(asked: argparse.Namespace) -> Output:
    document = read_document(asked.facts)
    on, layers = _day(asked.on), read_layer_files(asked.override)
    with document.refusing(), _laid(asked.override):
        document.only()
        held = rules.requirements(**document.opening(), on=on, layers=layers)
    plan = rules.visit_plan(held, activity=asked.activity)
    return Output(explain_plan(plan) if asked.explain else plan)


def _duties(asked: argparse.Namespace) -> Output:
    document, history = read_document(asked.facts), read_document(asked.history, list)
    on, layers = _day(asked.on), read_layer_files(asked.override)
    with document.refusing(), _laid(asked.override):
        document.only()
        opening = document.opening()
        rules.requirements(**opening, on=on, layers=layers)  # refuses them under their own file
    with history.refusing("/history"):
        owed = rules.duties(**opening, history=history.data, on=on, layers=layers)
    later = not_counted(history.data, on)
    if later:
        _write(sys.stderr, str(FileRefusedError(asked.history, later)))
    return Output(owed)


def _measure(asked: argparse.Namespace) -> Output:
    document = read_document(asked.trace)
    with document.refusing():
        return Output(rules.measure(document.data))


def _lint(asked: argparse.Namespace) -> Output:
    """The problems are the answer; a file that has any is bad input all the same."""
    file, text, above = asked.layer, read_text(asked.layer), read_layer_files(asked.override)
    problems = rules.lint(text, name=file, above=above)
    if problems:
        _write(sys.stderr, str(FileRefusedError(file, problems)))
    remarks = [] if problems else lint_remarks(text, name=file)
    answer = {"file": file, "problems": _shown(problems), "remarks": _shown(remarks)}
    return Output(answer, 2 if problems else 0)


def _shown(problems: Sequence[Problem]) -> list[dict[str, str]]:
    return [{"pointer": p.pointer, "code": p.code, "message": p.message} for p in problems]


def _compare(asked: argparse.Namespace) -> Output:
    compared = []
    try:
        refuse_strangers(asked.before, asked.after)
    except UnknownNameError as refused:
        problem = Problem("--to", "other_publication", str(refused))
        raise FileRefusedError("arguments", [problem]) from refused
    for file in asked.facts:
        document = read_document(file)
        with document.refusing():
            document.only(more=("visits",))
            opening, visits = document.opening(), document.listed("visits")
            before = _as_of("--from", asked.before, opening, asked.on)
            after = _as_of("--to", asked.after, opening, asked.on)
            named = {"file": file, "from": asked.before, "to": asked.after}
            compared.append({**named, **rules.compare(before, after, visits)})
    return Output(compared)


def _schema(asked: argparse.Namespace) -> Output:
    return Output(schema(asked.name))


# --- their arguments -------------------------------------------------------------------------


def _day(text: str, option: str = "--on") -> date:
    try:
        return read_day(text, option)
    except InputError as refused:
        raise FileRefusedError("arguments", refused.problems) from refused


@contextmanager
def _laid(files: Sequence[str]) -> Iterator[None]:
    """Refuse a layer that does not belong where it is laid under the name of its own file."""
    try:
        yield
    except InputError as refused:
        first, *more = refused.problems
        _, layers, number, *_ = (*first.pointer.split("/"), "", "", "")
        if more or layers != "layers":
            raise
        problem = Problem("/jurisdiction/parent", first.code, first.message)
        raise FileRefusedError(files[int(number)], [problem]) from refused


def _as_of(option: str, edition: str, opening: dict[str, Any], on: str | None) -> RequirementSet:
    """The requirements on a day, or as if an edition governed on the day of `--on`."""
    if _is_day(edition):
        return rules.requirements(**opening, on=_day(edition, option))
    if edition not in rules.load().publications:
        known = ", ".join(rules.load().publications)
        message = f"{edition[:60]!r} is no edition and no day; there are: {known}"
        raise FileRefusedError("arguments", [Problem(option, "unknown_name", message)])
    return under(edition, **opening, on=_day(on) if on else datetime.now(UTC).date())


def _is_day(text: str) -> bool:
    return len(text) == len("YYYY-MM-DD") and text.replace("-", "").isdigit()


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m rules",
        description="Dated, cited requirements for fire doors, judged exactly.",
        epilog="Local code, the authority having jurisdiction and licensed practice decide.",
    )
    parser.add_argument("--version", action="version", version=rules.__version__)
    verbs = parser.add_subparsers(required=True, metavar="VERB")
    _add_openings(verbs)
    measure = verbs.add_parser("measure", help="from raw samples to a reading")
    measure.add_argument("trace", metavar="TRACE.json")
    measure.set_defaults(verb=_measure)
    lint = verbs.add_parser("lint", help="every mistake in an override, with its place")
    lint.add_argument("layer", metavar="OVERRIDE.toml")
    _add_layers(lint)
    lint.set_defaults(verb=_lint)
    shape = verbs.add_parser("schema", help="the JSON Schema of an input or an output")
    shape.add_argument("name", metavar="NAME", choices=NAMES, help=", ".join(NAMES))
    shape.set_defaults(verb=_schema)
    return parser


def _add_openings(verbs: Any) -> None:  # noqa: ANN401 - argparse keeps the type to itself
    """The verbs that take an opening."""
    asked = verbs.add_parser("requirements", help="what applies to an opening, and why")
    asked.add_argument("facts", metavar="FACTS.json")
    asked.add_argument("--on", required=True, metavar="YYYY-MM-DD")
    judge = verbs.add_parser("judge", help="what was found, against what applies")
    judge.add_argument("findings", metavar="FINDINGS.json")
    plan = verbs.add_parser("plan", help="the form of a visit: what to heed, look at, measure, run")
    plan.add_argument("facts", metavar="FACTS.json")
    plan.add_argument("--on", required=True, metavar="YYYY-MM-DD")
    activities = ", ".join(Activity)
    plan.add_argument(
        "--activity", required=True, choices=list(Activity), metavar="ACTIVITY", help=activities
    )
    duties = verbs.add_parser("duties", help="what is owed, and by when")
    duties.add_argument("facts", metavar="FACTS.json")
    duties.add_argument("--history", required=True, metavar="HISTORY.json")
    duties.add_argument("--on", required=True, metavar="YYYY-MM-DD")
    given = ((asked, _requirements), (judge, _judge), (plan, _plan), (duties, _duties))
    for parser, verb in given:
        _add_layers(parser)
        parser.set_defaults(verb=verb)
    for parser in (asked, judge, plan):
        parser.add_argument("--explain", action="store_true", help="a page to read, not JSON")
    _add_compare(verbs)


def _add_layers(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--override",
        action="append",
        default=[],
        metavar="OVERRIDE.toml",
        help="a layer under the jurisdiction, each upon the ones before; may be given often",
    )


def _add_compare(verbs: Any) -> None:  # noqa: ANN401 - argparse keeps the type to itself
    compare = verbs.add_parser("compare", help="what an edition, or another day, changes")
    edition = "an edition's id, as if it governed, or a day"
    compare.add_argument("--from", dest="before", required=True, metavar="EDITION", help=edition)
    compare.add_argument("--to", dest="after", required=True, metavar="EDITION", help=edition)
    compare.add_argument("--on", metavar="YYYY-MM-DD", help="the day of it all, else today")
    compare.add_argument("facts", nargs="+", metavar="FACTS.json")
    compare.set_defaults(verb=_compare)
