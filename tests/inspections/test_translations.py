"""Every message to people is there in every language of the service, complete and current."""

from __future__ import annotations

import ast
import re
from gettext import GNUTranslations
from pathlib import Path

import pytest
from django.conf import settings
from django.utils.translation.template import templatize

APP = Path(settings.BASE_DIR) / "inspections"
LANGUAGES = [code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE]
SAME = {"No"}  # which is so in both languages
_CALL = re.compile(r"\bn?gettext\(((?:\s*u?(?:'(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\")\s*,?)+)")
_NAMED = re.compile(r"%\((\w+)\)[sd]")
_CALLED = {"_", "gettext", "ngettext", "gettext_lazy"}


def _of_template(path: Path) -> set[str]:
    """The messages of a template, as Django's own extraction writes them."""
    found = set()
    for call in _CALL.finditer(templatize(path.read_text(encoding="utf-8"))):
        texts = re.findall(r"'(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\"", call[1])
        found.add(ast.literal_eval(texts[0]))
    return found


def _of_module(path: Path) -> set[str]:
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    return {
        str(node.args[0].value)
        for node in nodes
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id in _CALLED
        and node.args
        and isinstance(node.args[0], ast.Constant)
    }


def messages() -> set[str]:
    """Everything that is marked to be translated."""
    templates = [p for p in (APP / "templates").rglob("*") if p.suffix in {".txt", ".html"}]
    modules = [p for p in APP.rglob("*.py") if "gettext" in p.read_text(encoding="utf-8")]
    found: set[str] = set()
    return found.union(*map(_of_template, templates), *map(_of_module, modules))


def catalogue(language: str) -> dict[str | tuple[str, int], str]:
    """What stands in the compiled file that the service reads."""
    path = APP / "locale" / language / "LC_MESSAGES" / "django.mo"
    with path.open("rb") as file:
        read: dict[str | tuple[str, int], str] = GNUTranslations(file)._catalog  # type: ignore[attr-defined]  # noqa: SLF001
    return read


def source(language: str) -> dict[str | tuple[str, int], str]:
    """What stands in the file that translators write."""
    path = APP / "locale" / language / "LC_MESSAGES" / "django.po"
    found: dict[str | tuple[str, int], str] = {}
    for entry in path.read_text(encoding="utf-8").split("\n\n")[1:]:
        assert "fuzzy" not in entry
        lines = dict(line.split(" ", 1) for line in entry.splitlines() if not line.startswith("#"))
        id_ = ast.literal_eval(lines["msgid"])
        if "msgid_plural" in lines:
            found |= {(id_, n): ast.literal_eval(lines[f"msgstr[{n}]"]) for n in (0, 1)}
        else:
            found[id_] = ast.literal_eval(lines["msgstr"])
    return found


def test_there_is_something_to_translate() -> None:
    """The extraction finds templates and modules both, else the rest would hold of nothing."""
    found = messages()
    assert {"What to do now", "periodic inspection", "%(count)d fire door overdue"} <= found
    assert len(found) > 45


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_message_is_translated(language: str) -> None:
    """None is missing or empty, and each keeps what is put into it; what is translated beside
    them is said by the rules library or by a page.
    """
    known = catalogue(language)
    ids = {key if isinstance(key, str) else key[0] for key in known} - {""}
    assert messages() - ids == set()
    said_elsewhere = "".join(
        path.read_text(encoding="utf-8")
        for folder in (Path(settings.BASE_DIR) / "rules", APP / "web")
        for path in folder.rglob("*")
        if path.suffix in {".py", ".toml"}
    )
    assert [id_ for id_ in ids - messages() if id_ not in said_elsewhere] == []
    for key, said in known.items():
        if key == "":
            continue
        id_ = key if isinstance(key, str) else key[0]
        assert said.strip()
        assert said != id_ or id_ in SAME
        assert set(_NAMED.findall(said)) == set(_NAMED.findall(id_)), id_


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_compiled_is_what_was_written(language: str) -> None:
    """Nobody needs a compiler of messages to run the service: the compiled file stands beside."""
    compiled = {key: said for key, said in catalogue(language).items() if key != ""}
    assert compiled == source(language)


@pytest.mark.parametrize("suffix", [".txt", ".html"])
def test_no_words_stand_in_a_template_unmarked(suffix: str) -> None:
    """What people read of a mail goes through the translation, whole."""
    for path in (APP / "templates" / "notices").glob(f"*{suffix}"):
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"{% blocktranslate.*?{% endblocktranslate %}", "", text, flags=re.DOTALL)
        bare = re.sub(r"{%.*?%}|{{.*?}}|<[^>]*>", "", text, flags=re.DOTALL)
        assert not re.search(r"[A-Za-z]{2,}", bare), (path.name, bare.strip())
