"""The packet PDF: everything stored is printed, nothing a person wrote can break it or reach out.

Samples stand in fixtures/packets; all of it is invented.
"""

from __future__ import annotations

import ast
import copy
import gc
import hashlib
import io
import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pdfplumber
import pypdf
import pytest
from reportlab import rl_config
from reportlab.platypus.flowables import Flowable

import rules
from inspections.pdf import PacketError, packet, render_packet
from inspections.pdf.document.openings import Opening
from inspections.pdf.grid import Grid
from inspections.pdf.photos import Picture
from inspections.pdf.sheets import sheet
from inspections.plots import PlotError
from rules.shapes import schema
from tests.doors.pictures import jpeg

ROOT = Path(__file__).parents[2]
PACKETS = ROOT / "fixtures" / "packets"
SOURCES = sorted((ROOT / "inspections" / "pdf").rglob("*.py"))
PLOTS = sorted((ROOT / "inspections" / "plots").glob("*.py"))

Json = Any


def sample(name: str) -> Json:
    """Return a stored packet document."""
    return json.loads((PACKETS / f"{name}.json").read_text(encoding="utf-8"))


@cache
def pages_of(name: str) -> tuple[str, ...]:
    """Return the text of each page of a stored packet."""
    return texts(render_packet(sample(name)))


def texts(content: bytes) -> tuple[str, ...]:
    """Return the text of each page."""
    reader: Any = pypdf.PdfReader(io.BytesIO(content))
    return tuple(page.extract_text() for page in reader.pages)


def squeezed(text: str) -> str:
    """Return the text without white space: where a line breaks is not what is tested."""
    return "".join(text.split())


def body(page: str, site: str) -> str:
    """Return a page without header and footer, which are drawn last."""
    return page[: page.rfind(site)]


def everything(document: Json) -> str:
    """Return all that a document prints between headers and footers, without white space."""
    pages = texts(render_packet(document))
    return squeezed("".join(body(page, document["site"]["name"]) for page in pages))


def one_of_everything() -> Json:
    """Return a packet of one opening that has every kind of content once or a few times."""
    document = sample("twelve_openings")
    opening = copy.deepcopy(document["openings"][0])
    opening["visits"] = opening["visits"][1:2]
    document["openings"] = [opening]
    document["exceptions"] = document["exceptions"][:1]
    return document


# --- what is printed ---------------------------------------------------------------------------

# Stored, and for the machine alone: drawn as a curve or a dot, an id whose words are printed in
# its place, or told by another value.
NOT_IN_WORDS = frozenset(
    {
        *("t", "values", "points", "trend", "from_t"),  # drawn
        *("check", "sequence", "step", "quantity", "governing", "code", "index"),  # words instead
        *("comparator", "band", "kind", "adoption", "standing", "instrument"),  # words instead
        *("lineage", "protects", "basis", "required", "complete", "counts", "repeat"),
        *("asks", "finding", "governs", "repeats", "test_load", "untested"),  # titles instead
    }
)
# Said of a verdict only where there is more to say than that it conforms.
UNLESS_CONFORMING = frozenset({"requirement", "message", "reason", "probability_of_conformity"})
# Of a requirement on which nothing was found: what it is, who asks for it, and why.
OF_THE_SILENT = frozenset({"title", "citation", "layer"})


def printed_forms(value: Json) -> set[str]:
    """Return the ways in which a stored value may be printed."""
    if isinstance(value, bool):
        return {"yes" if value else "no"}
    text = str(value)
    instant = re.fullmatch(r"(\d{4}-\d\d-\d\d)T([\d:.]+)(Z|[+-]\d\d:\d\d)", text)
    if instant:
        day, clock, zone = instant.groups()
        return {f"{day} {clock} {'UTC' if zone == 'Z' else zone}"}
    words = text.replace("_", " ")
    groups = " ".join(text[at : at + 4] for at in range(0, len(text), 4))
    return {text, text.rstrip("."), words, words[:1].upper() + words[1:], groups}


def stored_values(node: Json, path: str = "") -> Iterator[tuple[str, Json]]:
    """Return every value that must be printed, with its place."""
    if isinstance(node, dict):
        left_out = left_out_of(node)
        for key, value in node.items():
            if key not in left_out:
                yield from stored_values(value, f"{path}/{key}")
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from stored_values(value, f"{path}/{index}")
    elif node not in (None, "") and not path.endswith("/unit"):
        yield path, node


def left_out_of(node: dict[str, Json]) -> frozenset[str]:
    """Return the keys of a part that are not printed as they stand."""
    if "verdict" not in node or "lineage" not in node:
        return NOT_IN_WORDS
    if node["verdict"] == "not_tested" or (node["reason"] or "").startswith("fact_missing"):
        return (
            frozenset(node) - OF_THE_SILENT - ({"message"} if node["reason"] == "stated" else set())
        )
    clear = node["verdict"] == "conforms" and node["band"] != "conditional"
    return NOT_IN_WORDS | (UNLESS_CONFORMING if clear else frozenset())


def test_every_stored_value_of_an_opening_is_on_its_own_pages() -> None:
    """Each value of an opening is printed between its sheet's first page and the next sheet."""
    document, pages = sample("twelve_openings"), pages_of("twelve_openings")
    starts = [
        next(n for n, page in enumerate(pages) if page.startswith(f"Opening {opening['tag']}\n"))
        for opening in document["openings"]
    ]
    last = next(n for n, page in enumerate(pages) if page.startswith("People, instruments"))
    tail = "".join(pages[last:])  # people, instruments, alarm logs and notes on sources stand once
    missing = []
    for opening, start, end in zip(document["openings"], starts, [*starts[1:], last], strict=True):
        own = squeezed("".join(body(p, document["site"]["name"]) for p in pages[start:end]))
        for path, value in stored_values(opening):
            shared = re.search(r"/(people|instruments|alarm_log)/|/citation/note", path)
            where = own + squeezed(tail) if shared else own
            if not any(squeezed(form) in where for form in printed_forms(value)):
                missing.append((opening["tag"], path, value))
    assert missing == []


def test_every_stored_value_beside_the_openings_is_printed() -> None:
    """Packet, authority, site, coverage, rules, exceptions and the last pages are complete."""
    document = sample("twelve_openings")
    printed = squeezed("".join(pages_of("twelve_openings")))
    document.pop("openings")
    document["packet"].pop("language")  # said to the machine, and tested there
    document["packet"].pop("demonstration")  # tested with the footers
    missing = [
        (path, value)
        for path, value in stored_values(document)
        if not any(squeezed(form) in printed for form in printed_forms(value))
    ]
    assert missing == []


def test_what_a_written_record_must_contain_is_there_by_name() -> None:
    """The eleven items that NFPA 80 (2013) 5.2.2 asks of a record are all on paper."""
    printed = squeezed("".join(pages_of("one_opening")))
    items = {
        "date": "2026-03-03 11:05:00 -06:00",
        "name of the facility": "Larkwater Memorial Hospital",
        "address of the facility": "410 Quarry Road",
        "person who inspected": "Ana Whitcomb, inspector",
        "company name and address": "Northfold Door Inspection inspector 9 Mill Street",
        "signature of the inspector of record": "Signed by Ana Whitcomb",
        "one record for each assembly": "Opening A-01",
        "opening and location": "Main stair, first floor",
        "type and description": "Door type swinging",
        "verification of visual and functional items": "Looked-at items",
        "list of deficiencies": "Deficiencies No deficiencies.",
    }
    assert [name for name, text in items.items() if squeezed(text) not in printed] == []


def test_the_cover_says_first_how_much_is_here() -> None:
    """Coverage stands on the first page, before anything that was found."""
    cover = pages_of("twelve_openings")[0]
    assert cover.index("12 of 13 openings; 1 not included") < cover.index("conform")
    assert "Under a building permit since 2026-01-19" in pages_of("twelve_openings")[1]


def test_exceptions_come_before_every_sheet_with_their_interim_measure() -> None:
    """A reviewer meets each exception before the first sheet; no end date is said to be missing."""
    pages = pages_of("twelve_openings")
    first_sheet = next(n for n, page in enumerate(pages) if page.startswith("Opening "))
    before = squeezed("".join(pages[:first_sheet]))
    for item in sample("twelve_openings")["exceptions"]:
        assert squeezed(item["words"]) in before
    assert squeezed("from 2026-03-03 15:00:00 -06:00 without an end date") in before


def test_page_numbers_of_the_index_lead_to_the_sheets() -> None:
    """The page printed beside an opening, and its link, is the page where its sheet begins."""
    document, content = sample("twelve_openings"), render_packet(sample("twelve_openings"))
    reader: Any = pypdf.PdfReader(io.BytesIO(content))
    pages = pages_of("twelve_openings")
    links = [note.get_object()["/Dest"][0] for note in reader.pages[1]["/Annots"]]
    leads_to = [reader.get_page_number(target.get_object()) for target in links]
    leads_to = leads_to[len(document["exceptions"]) :]
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        index = pdf.pages[1].extract_text(use_text_flow=False)
    for number, opening in enumerate(document["openings"]):
        line = next(x for x in reversed(index.split("\n")) if x.startswith(opening["tag"] + " "))
        starts = next(n for n, p in enumerate(pages) if p.startswith(f"Opening {opening['tag']}\n"))
        assert line.split()[-1] == str(starts + 1)
        assert leads_to[number] == starts


@pytest.mark.parametrize("name", ["one_opening", "nasty", "twelve_openings"])
def test_every_page_says_which_page_of_how_many_of_which_packet(name: str) -> None:
    """Number, total, packet, version, site and the head of the digest stand on each page."""
    document, pages = sample(name), pages_of(name)
    digest = document["verify"]["content_sha256"]
    groups = " ".join(digest[at : at + 4] for at in range(0, 16, 4))
    for number, page in enumerate(pages, start=1):
        assert squeezed(f"Page {number} of {len(pages)}") in squeezed(page)
        assert f"Packet {document['packet']['id']}, version 1" in page
        assert document["site"]["name"] in page
        assert f"Content {groups}" in page
        assert "Demonstration data: invented" in page


def test_no_demonstration_is_claimed_where_there_is_none() -> None:
    """The mark appears only where the document bears it."""
    document = sample("one_opening")
    document["packet"]["demonstration"] = False
    assert "Demonstration" not in "".join(texts(render_packet(document)))


def test_every_page_of_a_sheet_names_its_opening() -> None:
    """A page taken out of the file still tells which door it is about."""
    pages = pages_of("twelve_openings")
    start = next(n for n, page in enumerate(pages) if page.startswith("Opening E2-07\n"))
    end = next(n for n, page in enumerate(pages) if page.startswith("Opening E2-08\n"))
    assert end - start > 2
    assert all("E2-07, Ward E2, corridor to lift lobby 3" in page for page in pages[start:end])
    assert "E2-07, Ward E2" not in pages[-1]


def test_the_file_says_language_title_author_and_outline() -> None:
    """What a reader program shows of the file is the packet's, and its date the assembly's."""
    reader: Any = pypdf.PdfReader(io.BytesIO(render_packet(sample("twelve_openings"))))
    assert reader.trailer["/Root"]["/Lang"] == "en"
    metadata = reader.metadata
    assert metadata is not None
    assert metadata.title == "Larkwater Memorial Hospital: packet LW-2026-0007, version 1"
    assert metadata.author == "Northfold Door Inspection"
    assert str(metadata.creation_date) == "2026-03-09 15:12:40+00:00"
    top = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    below = [entry.title for part in reader.outline if isinstance(part, list) for entry in part]
    assert top[1:3] == ["Exceptions", "Openings, one line each"]
    assert top[-1] == "How to verify this packet"
    assert [title.split(",")[0] for title in below] == [
        opening["tag"] for opening in sample("twelve_openings")["openings"]
    ]


def test_all_type_is_embedded() -> None:
    """No page names a typeface that the file does not carry."""
    reader: Any = pypdf.PdfReader(io.BytesIO(render_packet(sample("nasty"))))
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"]


def test_advisory_items_stand_apart_and_named_so() -> None:
    """What nobody adopted is under its own heading and in no count."""
    document = one_of_everything()
    printed = everything(document)
    heading = squeezed("Advisory: adopted by nobody here, binds nobody, not in the summary")
    advisory = document["openings"][0]["visits"][0]["advisory"]
    assert printed.count(heading) == 1
    for verdict in advisory:
        assert printed.index(squeezed(verdict["title"])) > printed.index(heading)
    assert squeezed("1 do not conform, 1 inconclusive, 2 not tested, 15 conform") in printed


def test_no_word_says_that_anything_is_safe() -> None:
    """The software states conformity to requirements tested, and never safety."""
    said = re.compile(r"\b(un)?safe(ty|ly)?\b", re.IGNORECASE)
    assert not said.search(" ".join(pages_of("twelve_openings")))
    for path in [*SOURCES, *PLOTS]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                assert not said.search(node.value), (path.name, node.lineno)
    assert squeezed("conform to the requirements tested") in squeezed(
        pages_of("twelve_openings")[0]
    )


def test_a_superseded_visit_says_that_it_no_longer_stands() -> None:
    """Both the old and the new record name each other."""
    document = one_of_everything()
    visit = document["openings"][0]["visits"][0]
    visit["superseded_by"], visit["supersedes"] = "visit-new", "visit-older"
    printed = everything(document)
    assert squeezed("Superseded by visit visit-new: this record no longer stands.") in printed
    assert squeezed("Supersedes visit-older") in printed
    assert squeezed("accordion, power no visit no visit") in printed  # none that stands


def test_what_does_not_conform_is_told_by_more_than_its_words() -> None:
    """A row that fails is bold and has a bar in the margin, so it is found in black and white."""
    content = render_packet(one_of_everything())
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        bold = {
            character["text"]
            for page in pdf.pages
            for character in page.crop((250, 60, 450, 740)).chars
            if "Bold" in character["fontname"] and 8 < character["size"] < 8.4
        }
        bars = [r for page in pdf.pages for r in page.rects if r["x0"] < 45 and r["width"] < 3]
    assert set("doesnotconform") <= bold
    assert len(bars) == 2  # in the list of openings, and beside the reading


def test_what_was_not_tested_is_listed_apart_from_what_was_found() -> None:
    """Untested items, and those whose fact is missing, stand by publication under their heading."""
    printed = everything(one_of_everything())
    required = printed.index(squeezed("Required at this visit and not tested"))
    unknown = printed.index(squeezed("Cannot be told whether it applies, for want of a fact"))
    lateral = squeezed("no rig on site. Opens at 15 lbf under a load of 250 lbf across the leaf")
    assert required < printed.index(lateral) < unknown
    assert printed.index(squeezed("missing: workplace Width of the way to the exit")) > unknown
    assert squeezed("not every required item: 2 left, named below") in printed


def test_one_sequence_serves_every_requirement_that_asks_for_it() -> None:
    """Two publishers may ask for one course of events; each row shows what was seen."""
    document = one_of_everything()
    visit = document["openings"][0]["visits"][0]
    first = next(v for v in visit["verdicts"] if v.get("sequence") == "signal-closes")
    visit["verdicts"].append({**first, "requirement": "other/signal", "title": "Asked once more"})
    printed = everything(document)
    assert printed.count(squeezed("1 Starts to close: seen")) == 2
    assert squeezed("Asked once more1 Starts to close: seen") in printed


def test_what_was_sent_though_nobody_asked_is_printed() -> None:
    """An item or sequence without a requirement here is shown and said to be such."""
    document = one_of_everything()
    visit = document["openings"][0]["visits"][0]
    visit["checks"].append({"check": "hinge-pins", "result": "conforms", "remarks": "tight"})
    visit["sequences"].append(
        {"sequence": "night-mode", "result": "not_tested", "reason": "not fitted"}
    )
    printed = everything(document)
    assert squeezed("Hinge pins tight conforms no requirement here asks for it") in printed
    assert squeezed("Night mode not tested no requirement here asks for it") in printed
    assert "notfitted" in printed


def test_what_nobody_read_of_an_edition_is_told() -> None:
    """A governing edition that may ask more is named, with what is not known of it."""
    document = one_of_everything()
    summary = document["openings"][0]["visits"][0]["summary"]
    words = squeezed("Not read: the governing edition may ask more")
    assert words not in everything(document)
    gap = {"requirement": "nfpa80/gap", "edition": "NFPA 80, 2025", "title": "Widths of gaps"}
    summary["not_read"] = [gap]
    assert words + squeezed("NFPA 80, 2025: Widths of gaps") in everything(document)


def test_any_caption_and_number_of_attachments_is_printed() -> None:
    """However long and many: a list may break anywhere, a photo stands whole or not at all."""
    document = one_of_everything()
    visit = document["openings"][0]["visits"][0]
    visit["attachments"] = [
        {"sha256": f"{n:064x}", "caption": f"{'Ѫ' * 280}{n}", "kind": "photo", "missing": False}
        for n in range(50)
    ]
    said = "".join(texts(render_packet(document, picture=lambda _sha256: _small_jpeg())))
    for n in range(50):
        assert f"{n:064x}" in squeezed(said)
    assert said.count("Ѫ") >= 50 * 280


@cache
def _small_jpeg() -> bytes:
    return jpeg(size=(200, 480))


def test_neighbouring_exceptions_alike_stand_in_one_row() -> None:
    """An opening with many untested items takes one row, each item on a line of its own."""
    document = one_of_everything()
    document["exceptions"] = [
        {"opening": "E2-07", "kind": "not_tested", "words": f"item {n}", "since": "2026-03-02"}
        for n in range(3)
    ]
    printed = everything(document)
    assert squeezed("E2-07 not tested item 0 item 1 item 2 2026-03-02") in printed


def test_missing_samples_of_a_trace_are_told() -> None:
    """What was measured stays, and the reader learns that the samples are not there."""
    document = one_of_everything()
    for trace in document["openings"][0]["visits"][0]["traces"]:
        trace.update(t=[], values=[], marks=[], limits=[])
    printed = everything(document)
    assert printed.count(squeezed("The samples of this trace are missing.")) == 2
    assert squeezed("Mean closing speed 20.6 in/s") in printed


def test_every_source_is_listed_with_how_it_is_known() -> None:
    """Each citation stands once at the end with its standing and what is to be said of it."""
    printed = squeezed(" ".join(pages_of("twelve_openings")[-3:]))
    expected = "NFPA 80, 2019 9.4.1 secondary; quoted by an accreditation adviser"
    assert printed.count(squeezed(expected)) == 1
    assert squeezed("Secondary: a page that quotes or reports the source was read") in printed


def test_the_samples_hold_what_judging_answers() -> None:
    """Every verdict and summary in the stored packets has the shape of the rules library's own."""
    definitions = schema("verdicts")["$defs"]
    summary, verdict = (
        jsonschema.Draft202012Validator({"$ref": f"#/$defs/{part}", "$defs": definitions})
        for part in ("summary", "verdict")
    )
    samples = [sample(name) for name in ("one_opening", "nasty", "twelve_openings")]
    visits = [visit for d in samples for opening in d["openings"] for visit in opening["visits"]]
    assert len(visits) > 12
    for visit in visits:
        summary.validate(visit["summary"])
        for item in visit["verdicts"] + visit["advisory"]:
            verdict.validate(item)


def test_what_the_rules_library_answers_today_is_printed() -> None:
    """A visit judged by the library as it stands becomes a sheet with every title on it."""
    document = one_of_everything()
    visit = document["openings"][0]["visits"][0]
    facts = {
        "door_type": "accordion",
        "operation": "power",
        "fire_door": True,
        "means_of_egress": True,
        "accessible_route": False,
        "installed_on": "2019-05-01",
    }
    findings = {
        "on": "2026-03-01",
        "activity": "periodic_inspection",
        "readings": [
            {"quantity": "set_in_motion_force", "value": "34.5", "unit": "lbf"},
            {"quantity": "closing_force", "value": "66.9", "unit": "N", "uncertainty": "2"},
        ],
        "checks": [{"check": "no-holes", "result": "does_not_conform", "remarks": "two"}],
        "sequences": [{"sequence": "closes-on-signal", "result": "conforms", "steps": []}],
    }
    asked = rules.requirements(facts=facts, jurisdiction="us", on=date(2026, 3, 1))
    answer = rules.judge(asked, findings)
    visit.update({key: answer[key] for key in ("summary", "verdicts", "advisory")})
    visit.update({key: findings[key] for key in ("readings", "checks", "sequences")})
    printed = everything(document)
    titles = [verdict["title"] for verdict in answer["verdicts"] + answer["advisory"]]
    assert len(titles) > 20
    assert [title for title in titles if squeezed(title) not in printed] == []
    assert squeezed(answer["summary"]["says"]) in printed


def test_empty_lists_are_sentences() -> None:
    """Nothing to show is said in words, never as a heading over nothing."""
    document = sample("one_opening")
    opening = document["openings"][0]
    opening["visits"], opening["duties"], opening["facts"] = [], [], {}
    for key in ("exceptions", "rules", "people", "instruments", "organizations", "cautions"):
        document[key] = []
    printed = everything(document)
    for sentence in (
        "No exceptions.",
        "No opening is left out.",
        "No rules on file.",
        "No duties.",
        "No visit is recorded.",
        "No deficiencies.",
        "No organizations.",
        "No people.",
        "No instruments.",
        "No alarm log.",
        "No cautions.",
    ):
        assert squeezed(sentence) in printed
    document["openings"] = []
    assert squeezed("No openings.") in everything(document)


def test_openings_missing_without_a_reason_are_counted() -> None:
    """A packet that lacks openings says so even where nobody said why."""
    document = sample("one_opening")
    document["coverage"].update(openings=40, says="1 of 40 openings")
    assert squeezed("39 left out; no reason is recorded.") in everything(document)


def test_paper_is_that_of_the_place() -> None:
    """Letter in the United States and Canada, A4 elsewhere."""
    document = sample("one_opening")
    for code, size in (("us-mn-larkwater", (612, 792)), ("ca-on", (612, 792)), ("gb", (595, 842))):
        document["authority"]["jurisdiction"]["code"] = code
        box = pypdf.PdfReader(io.BytesIO(render_packet(document))).pages[0].mediabox
        assert (int(box.width), round(float(box.height))) == size


# --- the same bytes ----------------------------------------------------------------------------


def test_the_same_document_gives_the_same_bytes() -> None:
    """Two renderings are identical, and so is the one written to a stream."""
    out = io.BytesIO()
    first = render_packet(sample("twelve_openings"))
    second = render_packet(sample("twelve_openings"), out)
    assert hashlib.sha256(first).hexdigest() == hashlib.sha256(second).hexdigest()
    assert out.getvalue() == first


def test_another_process_gives_the_same_bytes() -> None:
    """Nothing depends on what was rendered before, on hash seeds or on the zone of the machine."""
    script = (
        "import hashlib, json, sys; from inspections.pdf import render_packet;"
        "print(hashlib.sha256(render_packet(json.load(open(sys.argv[1])))).hexdigest())"
    )
    command = [sys.executable, "-c", script, str(PACKETS / "nasty.json")]
    digests = {
        subprocess.run(
            command,
            cwd=ROOT,
            env={"PYTHONHASHSEED": seed, "TZ": zone, "PYTHONPATH": str(ROOT)},
            check=True,
            capture_output=True,
            text=True,
        ).stdout.strip()
        for seed, zone in (("1", "America/Denver"), ("2", "Asia/Tokyo"))
    }
    assert digests == {hashlib.sha256(render_packet(sample("nasty"))).hexdigest()}


# --- what a person may write -------------------------------------------------------------------

# Keys whose values the service or the rules library chooses from a list, or that are numbers,
# dates and digests it has checked: free text reaches none of them.
CHOSEN = frozenset(
    {
        *("language", "assembled_at", "activity", "verdict", "result", "state", "adoption"),
        *("standing", "kind", "t", "values", "value", "unit", "on", "from_t", "points", "trend"),
        *("quantity", "comparator", "demonstration"),
    }
)
# What was written, and what must stand on paper.
CORPUS = {
    "markup": ("Door <b>5 & <3 mm</b>", "Door <b>5 & <3 mm</b>"),
    "image": ('<img src="http://nowhere.example/x.png"/>',) * 2,
    "para": (
        "</para><para backColor='red'>&bull; <para",
        "</para><para backColor='red'>&bull; <para",
    ),
    "attribute": ('<font color="[[[1 for x in (1,)]]]">x</font>',) * 2,
    "entities": ("&lt;b&gt; &#60; &nosuch; ]]>",) * 2,
    "templates": ("{{7*7}} ${7*7} %s %(x)s {0}\\n",) * 2,
    "controls": ("a\x01b\x1bc\x7fd\x9fe", "a[U+0001]b[U+001B]c[U+007F]d[U+009F]e"),
    "newlines": ("one\r\ntwo\rthree\u2028four\u0085five", "one two three four five"),
    "direction": ("x\u202egnp\u202cy\u2066z\u2069", "x[U+202E]gnp[U+202C]y[U+2066]z[U+2069]"),
    "invisible": ("a\u200bb\ufeffc\u00add", "a[U+200B]b[U+FEFF]c[U+00AD]d"),
    "hebrew": ("דלת", "[U+05D3][U+05DC][U+05EA]"),
    "arabic": ("باب", "[U+0628][U+0627][U+0628]"),
    "greek": ("Θύρα πυρασφάλειας ᾳ",) * 2,
    "cyrillic": ("Противопожарная дверь ЁЖ",) * 2,
    "latin": ("Tür, porte à fermeture, ţară, Điện Biên",) * 2,
    "han": ("防火门", "[U+9632][U+706B][U+95E8]"),
    "emoji": ("ok \U0001f6aa", "ok [U+1F6AA]"),
    "decomposed": ("Tu\u0308r", "Tür"),
    "unassigned": ("a\u0378b\ue000c", "a[U+0378]b[U+E000]c"),
    "surrogate": ("a\ud800b", "a[U+D800]b"),
    "measures": ("≤ 15 lbf ± 0.5; 3/8″ × ½ – “quoted” …",) * 2,
}


def rewritten(node: Json, change: Callable[[str], str], key: str = "") -> Json:
    """Return the document with every free text replaced."""
    if isinstance(node, dict):
        return {name: rewritten(value, change, name) for name, value in node.items()}
    if isinstance(node, list):
        return [rewritten(value, change, key) for value in node]
    return change(node) if isinstance(node, str) and key not in CHOSEN else node


def free_texts(node: Json) -> int:
    """Return how many free texts a document holds."""
    seen: list[str] = []
    rewritten(node, lambda text: seen.append(text) or text)  # type: ignore[func-returns-value]
    return len(seen)


@pytest.mark.parametrize("name", CORPUS)
def test_text_in_every_field_is_printed_as_text(name: str) -> None:
    """Whatever stands in every free field at once, the packet is made and the text is on it."""
    written, expected = CORPUS[name]
    document = rewritten(one_of_everything(), lambda _: written)
    printed = squeezed("".join(texts(render_packet(document))))
    fields = free_texts(one_of_everything())
    assert fields > 200
    # Rows that conform print no message and no id, and what repeats is said once.
    assert printed.count(squeezed(expected)) > fields / 2


def test_a_very_long_word_in_every_field_at_once_is_laid_out() -> None:
    """Words without a break in all free fields break over lines, rows and pages."""
    document = rewritten(one_of_everything(), lambda text: f"{text} {'Ѫ' * 1_000}")
    shown = sum(page.count("Ѫ") for page in texts(render_packet(document)))
    assert shown > 1_000 * free_texts(one_of_everything()) / 2


LONG = {
    "site": lambda d, word: d["site"].update(name=word),
    "coverage": lambda d, word: d["coverage"].update(says=word),
    "exception": lambda d, word: d["exceptions"][0].update(words=word),
    "interim": lambda d, word: d["exceptions"][0]["interim"].update(words=word),
    "location": lambda d, word: d["openings"][0].update(location=word),
    "fact": lambda d, word: d["openings"][0]["facts"].update({word: "yes"}),
    "received": lambda d, word: _visit(d).update(received_at=word),
    "title": lambda d, word: _visit(d)["verdicts"][0].update(title=word),
    "message": lambda d, word: _visit(d)["verdicts"][0].update(message=word),
    "step": lambda d, word: _visit(d)["sequences"][0]["steps"][0].update(expect=word),
    "mark": lambda d, word: _visit(d)["traces"][0]["marks"][0].update(words=word),
    "remarks": lambda d, word: _visit(d).update(remarks=word),
    "part": lambda d, word: d["openings"][0]["deficiencies"][0]["repairs"][0].update(parts=[word]),
    "series": lambda d, word: d["openings"][0]["series"][0].update(title=word),
    "caution": lambda d, word: d.update(cautions=[word]),
    "digest": lambda d, word: d["verify"].update(content_sha256=word),
}


def _visit(document: Json) -> Json:
    return document["openings"][0]["visits"][0]


@pytest.mark.parametrize("field", LONG)
def test_a_word_of_ten_thousand_characters_is_whole_across_pages(field: str) -> None:
    """Every one of 10,000 characters without a break is printed, wherever they were written."""
    document = one_of_everything()
    LONG[field](document, "Ѫ" * 10_000)
    assert sum(page.count("Ѫ") for page in texts(render_packet(document))) >= 10_000


@pytest.mark.parametrize("name", ["nasty", "twelve_openings"])
def test_nothing_is_cut_off_and_nothing_lies_over_anything(name: str) -> None:
    """Every character stands within the margins, and no two stand in one place."""
    with pdfplumber.open(io.BytesIO(render_packet(sample(name)))) as pdf:
        for page in pdf.pages[:9]:
            characters = [c for c in page.chars if c["text"].strip()]
            assert all(
                c["x0"] >= 49.5 and c["x1"] <= page.width - 49.5 and c["bottom"] < page.height - 20
                for c in characters
            )
            assert overlapping(characters) == []


def overlapping(characters: list[dict[str, Any]]) -> list[str]:
    """Return pairs of characters that share more than a third of the smaller one's place."""
    ordered = sorted(characters, key=lambda c: (c["top"], c["x0"]))
    found = []
    for index, one in enumerate(ordered):
        for other in ordered[index + 1 :]:
            if other["top"] > one["bottom"]:
                break
            wide = min(one["x1"], other["x1"]) - max(one["x0"], other["x0"])
            high = min(one["bottom"], other["bottom"]) - max(one["top"], other["top"])
            if wide > 0 and high > 0:
                smaller = min(o["width"] * o["height"] for o in (one, other))
                if wide * high > smaller / 3:
                    found.append(one["text"] + other["text"])
    return found


# --- nothing is reached ------------------------------------------------------------------------

REACH = """
import io, json, sys
from inspections.pdf import render_packet
document = json.load(open(sys.argv[1], encoding="utf-8"))
render_packet(json.load(open(sys.argv[2], encoding="utf-8")))  # everything is imported now
reached = []
def listen(event, args):
    if event.split(".")[0] in ("socket", "urllib", "subprocess", "os", "ftplib", "http"):
        reached.append(event)
    if event == "open":
        reached.append(f"open {args[0]}")
sys.addaudithook(listen)
render_packet(document)
print(json.dumps(reached))
"""


def test_rendering_opens_no_connection_and_no_file(tmp_path: Path) -> None:
    """With markup that asks for pictures in every field, nothing outside memory is touched."""
    document = rewritten(one_of_everything(), lambda _: '<img src="http://127.0.0.1:9/x.png"/>')
    asking = tmp_path / "asking.json"
    asking.write_text(json.dumps(document), encoding="utf-8")
    command = [sys.executable, "-c", REACH, str(asking), str(PACKETS / "nasty.json")]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    assert json.loads(done.stdout) == []


def test_no_scheme_and_no_host_is_trusted() -> None:
    """What the PDF library may fetch is nothing at all."""
    assert rl_config.trustedSchemes == []
    assert rl_config.trustedHosts == []


def uses(tree: ast.AST, names: frozenset[str]) -> list[ast.expr | ast.alias]:
    """Return every place that names one of them: imported, called or reached by attribute."""
    return [
        node
        for node in ast.walk(tree)
        if (isinstance(node, ast.Name) and node.id in names)
        or (isinstance(node, ast.Attribute) and node.attr in names)
        or (isinstance(node, ast.alias) and node.name.split(".")[-1] in names)
    ]


def test_only_para_makes_a_paragraph() -> None:
    """Text meets the markup parser in one helper, which escapes it, and nowhere else."""
    parsers = frozenset(
        {"Paragraph", "XPreformatted", "ParaParser", "paraparser", "Preformatted", "RLPy2HTML"}
    )
    found = {path.name: uses(ast.parse(path.read_text("utf-8")), parsers) for path in SOURCES}
    assert {name for name, nodes in found.items() if nodes} == {"lines.py"}
    tree = ast.parse((ROOT / "inspections/pdf/lines.py").read_text("utf-8"))
    para = next(n for n in tree.body if isinstance(n, ast.FunctionDef) and n.name == "para")
    inside = uses(para, parsers)
    imported = [node for node in found["lines.py"] if isinstance(node, ast.alias)]
    assert len(inside) == 2  # the annotation and the call
    assert len(found["lines.py"]) == len(inside) + len(imported)
    call = next(n for n in ast.walk(para) if isinstance(n, ast.Call) and n.func in inside)
    assert ast.unparse(call.args[0]).startswith("escape(clean(text))")


def test_the_renderer_imports_no_model_no_query_and_no_network() -> None:
    """Only the rules library, the PDF library, msgspec and the standard library's plain parts."""
    allowed = ("inspections.pdf", "inspections.plots", "rules", "reportlab", "msgspec")
    forbidden = {"socket", "urllib", "http", "subprocess", "os", "django", "requests", "ssl"}
    for path in [*SOURCES, *PLOTS]:
        for module in imported_by(path):
            root = module.split(".")[0]
            assert root in sys.stdlib_module_names or module.startswith(allowed), (path, module)
            assert root not in forbidden, (path, module)
            if root == "reportlab" and path in PLOTS:
                assert path.name == "canvas.py"


def imported_by(path: Path) -> list[str]:
    """Return the modules that a source names."""
    names: list[str] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names.append(node.module or "")
    return names


# --- what is no packet -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda d: d.pop("site"), "`site`"),
        (lambda d: d["openings"][0].pop("tag"), r"`tag`.*\$\.openings\[0\]"),
        (lambda d: d["openings"][0].update(colour="red"), r"colour.*\$\.openings\[0\]"),
        (lambda d: d["openings"][0]["visits"][0].update(performed_at=5), "performed_at"),
        (lambda d: d["packet"].update(version="one"), r"\$\.packet\.version"),
        (lambda d: d["packet"].update(language="tlh"), r"\$\.packet\.language"),
        (lambda d: d["packet"].update(assembled_at="yesterday"), r"\$\.packet\.assembled_at"),
        (lambda d: d["packet"].update(assembled_at="2026-03-09T15:12:40"), "offset"),
        (lambda d: d["exceptions"].append({"opening": "x", "kind": "y", "words": "z"}), "kind"),
    ],
)
def test_a_wrong_document_is_refused_with_its_place(
    change: Callable[[Json], object], why: str
) -> None:
    """The refusal leads to the key and says why."""
    document = sample("one_opening")
    change(document)
    with pytest.raises(PacketError, match=why):
        render_packet(document)


def test_a_trace_that_cannot_be_drawn_is_refused() -> None:
    """A value that is no number stops the packet rather than print a false curve."""
    document = one_of_everything()
    document["openings"][0]["visits"][0]["traces"][0]["values"][3] = "NaN"
    with pytest.raises(PlotError, match="/values/3"):
        render_packet(document)


def test_a_newer_answer_of_the_rules_library_is_accepted() -> None:
    """A key that judging may add later does not stop an older print."""
    document = one_of_everything()
    document["openings"][0]["visits"][0]["verdicts"][0]["later_key"] = {"any": "thing"}
    assert render_packet(document)


# --- many openings -----------------------------------------------------------------------------

BUDGET_MB = 64  # of memory on top of the document, at 200 openings
MANY = """
import json, resource, sys
from inspections.pdf import render_packet
document = json.load(sys.stdin)
render_packet({**document, "openings": document["openings"][:1]})
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
render_packet(document)
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024)
"""


def many(count: int) -> Json:
    """Return a packet of so many openings, 20 readings each and a plot on every tenth."""
    document = sample("twelve_openings")
    pattern = next(o for o in document["openings"] if o["tag"] == "E2-08")
    visit = pattern["visits"][0]
    limits = [verdict for verdict in visit["verdicts"] if verdict["kind"] == "limit"]
    visit["verdicts"] = (limits * 4)[:20]
    visit["checks"], visit["sequences"] = [], []
    bare = copy.deepcopy(pattern)
    bare["visits"][0]["traces"] = []
    document["openings"] = [
        {**(pattern if index % 10 == 0 else bare), "tag": f"D-{index:04}"} for index in range(count)
    ]
    return document


def test_two_hundred_openings_stay_within_the_memory_budget() -> None:
    """The peak of a fresh process grows by no more than the budget."""
    done = subprocess.run(
        [sys.executable, "-c", MANY],
        cwd=ROOT,
        input=json.dumps(many(200)),
        check=True,
        capture_output=True,
        text=True,
    )
    assert float(done.stdout) <= BUDGET_MB


def test_only_the_sheet_being_drawn_is_held(monkeypatch: pytest.MonkeyPatch) -> None:
    """When a sheet begins, the rows and blocks of those before it are gone."""
    alive = []

    def counted(opening: Opening, key: str, picture: Picture, width: float) -> Iterator[Flowable]:
        alive.append(sum(type(thing) is Grid for thing in gc.get_objects()))
        return sheet(opening, key, picture, width)

    monkeypatch.setattr(packet, "sheet", counted)
    render_packet(many(12))
    assert len(alive) == 12
    assert max(alive[1:]) <= alive[0] + 1
