"""The import contracts refuse what the design forbids, and let pass what it allows."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LAYERS = ["errors", "tenancy", "states", "models", "selectors", "plots", "channels", "pdf"]
LAYERS += ["services", "tasking", "api", "web", "tasks", "management"]


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """Return a folder with our contracts and four packages that import nothing yet."""
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for package in ("config", "rules"):
        write(tmp_path, f"{package}.__init__", "")
    for app in ("doors", "inspections"):
        write(tmp_path, f"{app}.__init__", "")
        for layer in LAYERS:
            write(tmp_path, f"{app}.{layer}", "")
    return tmp_path


def write(house: Path, module: str, source: str) -> None:
    """Give `module` the content `source`."""
    path = house / (module.replace(".", "/") + ".py")
    path.parent.mkdir(exist_ok=True)
    path.write_text(source)


def contracts(house: Path) -> subprocess.CompletedProcess[str]:
    """Run the import contracts over the packages in `house`."""
    tool = Path(sys.executable).parent / "lint-imports"
    return subprocess.run(
        [tool, "--no-cache"], cwd=house, check=False, capture_output=True, text=True
    )


@pytest.mark.parametrize(
    ("module", "imported"),
    [
        ("rules.judge", "doors.models"),
        ("rules.judge", "django.db"),
        ("rules.judge", "numpy"),
        ("doors.services", "inspections.models"),
        ("inspections.services", "config"),
        ("doors.api", "config"),
        ("doors.services", "doors.tasks"),
        ("doors.models", "doors.selectors"),
        ("doors.errors", "doors.states"),
        ("inspections.pdf", "inspections.services"),
        ("inspections.plots", "inspections.pdf"),
        ("inspections.services", "inspections.tasking"),
        ("inspections.tasks", "inspections.management"),
    ],
)
def test_forbidden_import(house: Path, module: str, imported: str) -> None:
    """An import against an arrow breaks a contract, and the answer names the importer."""
    write(house, module, f"import {imported}\n")
    answer = contracts(house)
    assert answer.returncode != 0
    assert "BROKEN" in answer.stdout
    assert module in answer.stdout.split("Broken contracts", 1)[1]


def test_module_in_no_layer(house: Path) -> None:
    """A module that stands in no layer would escape the arrows, so it is refused by name."""
    write(house, "doors.extras", "")
    answer = contracts(house)
    assert answer.returncode != 0
    assert "doors.extras" in answer.stdout


def test_allowed_imports(house: Path) -> None:
    """Imports along the arrows keep every contract."""
    write(house, "config.urls", "import inspections.api\nimport doors.api\n")
    write(house, "inspections.services", "import doors.services\nimport inspections.pdf\n")
    write(house, "inspections.tasks", "import inspections.services\nimport doors.tasking\n")
    write(house, "doors.selectors", "import doors.models\nimport rules\n")
    write(house, "rules.portfolio", "import numpy\n")
    answer = contracts(house)
    assert answer.returncode == 0, answer.stdout
