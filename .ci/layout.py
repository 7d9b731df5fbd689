"""Check what no other tool checks: where files may lie, how long they may get, what none may name.

Looks at the files git knows in the current folder; prints one line for each thing out of place
and exits 1 if there is any.
"""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

FOLDERS = {"config", "doors", "inspections", "rules", "tests", "fixtures"}
FILES = {"README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml", "Makefile", "LICENSE"}
# Names that say nothing: what a file is for is its noun, in the layer it belongs to.
NAMELESS = {"utils", "util", "helpers", "helper", "common", "misc"}
# The address of a package index, or the option or variable that would hold one. A checkout must
# install from whatever index its machine is set up for.
INDEX = re.compile(
    r"(extra[-_])?index[-_]urls?\b|find[-_]links\b|trusted[-_]host\b"
    r"|://[^\s/\"']*(pypi|pythonhosted|npmjs|jsdelivr|unpkg)",
    re.IGNORECASE,
)
MODULE_LINES = 250
FUNCTION_LINES = 40


def main() -> int:
    """Print what is out of place; return 1 if anything is."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], check=True, capture_output=True, text=True
    ).stdout
    paths = [PurePosixPath(name) for name in listed.split("\0") if name and Path(name).is_file()]
    found = [line for path in paths for line in (*_place(path), *_content(path))]
    for line in found:
        print(line)
    print(f"{len(paths)} files looked at, {len(found)} things out of place")
    return 1 if found else 0


def _place(path: PurePosixPath) -> Iterator[str]:
    top = path.parts[0]
    if len(path.parts) > 1:
        if top not in FOLDERS and not top.startswith("."):
            yield f"{path}: the folder {top}/ is outside the layout"
    elif top not in FILES and not top.startswith(".") and path.suffix != ".lock":
        yield f"{path}: outside the layout"
    for part in path.parts:
        if PurePosixPath(part).stem in NAMELESS:
            yield f"{path}: `{part}` does not say what it is; name it by its noun"


def _content(path: PurePosixPath) -> Iterator[str]:
    try:
        text = Path(path).read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return  # a binary file
    for number, line in enumerate(text.splitlines(), 1):
        named = INDEX.search(line) or (path.suffix == ".lock" and "://" in line)
        if named and path != PurePosixPath(".ci/layout.py"):
            yield f"{path}:{number}: names a package index"
    if path.suffix == ".py" and path.parts[0] != "tests" and "migrations" not in path.parts:
        yield from _sizes(path, text)


def _sizes(path: PurePosixPath, text: str) -> Iterator[str]:
    lines = text.splitlines()
    if (length := _count(lines)) > MODULE_LINES:
        yield f"{path}: {length} lines of code, more than {MODULE_LINES}"
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = _count(lines[node.lineno - 1 : node.end_lineno])
            if length > FUNCTION_LINES:
                where = f"{path}:{node.lineno}: {node.name}"
                yield f"{where} has {length} lines, more than {FUNCTION_LINES}"


def _count(lines: list[str]) -> int:
    """Return how many of `lines` are neither blank nor a comment."""
    return sum(1 for line in lines if line.strip() and not line.lstrip().startswith("#"))


if __name__ == "__main__":
    sys.exit(main())
