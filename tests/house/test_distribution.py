"""The rules library as others install it: whole, alone, and nothing else with it."""

import email
import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BUILD = "import flit_core.buildapi as b; print(b.build_wheel('dist'))"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """Build the wheel from a copy of what it is made of."""
    source = tmp_path_factory.mktemp("source")
    for name in ("pyproject.toml", "LICENSE"):
        shutil.copy(ROOT / name, source)
    shutil.copytree(ROOT / "rules", source / "rules")
    (source / "dist").mkdir()
    built = subprocess.run(
        [sys.executable, "-c", BUILD], cwd=source, check=True, capture_output=True, text=True
    )
    return zipfile.ZipFile(source / "dist" / built.stdout.strip())


def test_holds_the_library_whole(wheel: zipfile.ZipFile) -> None:
    """Every file of rules/ is in it, data, schemas and the typing marker included; no test is."""
    library = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "rules").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    packed = {name for name in wheel.namelist() if ".dist-info/" not in name}
    assert packed == library
    assert "rules/py.typed" in packed
    assert {Path(name).suffix for name in packed} >= {".py", ".toml", ".json"}


def test_asks_for_nothing(wheel: zipfile.ZipFile) -> None:
    """It has no dependency; NumPy comes with the extra `portfolio` alone."""
    (name,) = (name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))
    metadata = email.message_from_bytes(wheel.read(name))
    assert metadata["Name"] == "fire-door-rules"
    assert set(str(metadata["Requires-Python"]).split(",")) == {">=3.11", "<3.14"}
    needs = metadata.get_all("Requires-Dist", [])
    assert [need for need in needs if "extra ==" not in need] == []
    assert len(needs) == 1
    assert needs[0].startswith("numpy")


def test_works_alone(wheel: zipfile.ZipFile, tmp_path: Path) -> None:
    """Unpacked anywhere, without a single installed package, it answers on the command line."""
    wheel.extractall(tmp_path)
    answer = subprocess.run(
        [sys.executable, "-S", "-m", "rules", "schema", "facts"],
        cwd=tmp_path,
        check=False,
        capture_output=True,
        text=True,
    )
    assert answer.returncode == 0, answer.stderr
    assert json.loads(answer.stdout)["$schema"].startswith("https://json-schema.org/")


VISIT = {
    "jurisdiction": "us",
    "on": "2026-03-01",
    "activity": "periodic_inspection",
    "facts": {"door_type": "accordion", "operation": "power", "installed_on": "2019-05-01"},
    "readings": [
        {"quantity": "set_in_motion_force", "value": "13.6", "unit": "kgf", "uncertainty": "0.2"}
    ],
}


def test_judges_alike_on_every_python(wheel: zipfile.ZipFile, tmp_path: Path) -> None:
    """The same bytes, digest included, on each Python of 3.11 to 3.13 that is at hand."""
    wheel.extractall(tmp_path)
    named = [path for minor in (11, 12, 13) if (path := shutil.which(f"python3.{minor}"))]
    answers = {}
    for python in (sys.executable, *named):
        ran = subprocess.run(
            [python, "-S", "-m", "rules", "judge", "-"],
            cwd=tmp_path,
            input=json.dumps(VISIT).encode(),
            capture_output=True,
            check=False,
        )
        if python == sys.executable or b"rules" in ran.stdout:  # a shim may lead nowhere
            answers[python] = ran.stdout
    assert len(set(answers.values())) == 1
    assert json.loads(answers[sys.executable])["library"]["requirements_digest"]
