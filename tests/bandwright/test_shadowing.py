"""A file of the user's own that bears the name of one of the packages."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.process

RAN = "raise SystemExit('a file of the user was run')\n"


@pytest.mark.parametrize("name", ["acquire", "calibration", "acceptance", "replay"])
def test_a_file_in_the_way_is_named_and_not_run(name: str, tmp_path: Path) -> None:
    (tmp_path / f"{name}.py").write_text(RAN, encoding="utf-8")
    done = _python(tmp_path, "-c", "import bandwright")
    assert done.returncode == 1
    last = done.stderr.strip().splitlines()[-1]
    assert last.startswith("ImportError: ")
    assert str(tmp_path / f"{name}.py") in last
    assert "Rename that file" in last


def test_a_package_in_the_way_is_named_too(tmp_path: Path) -> None:
    (tmp_path / "calibration").mkdir()
    (tmp_path / "calibration" / "__init__.py").write_text(RAN, encoding="utf-8")
    done = _python(tmp_path, "-c", "import bandwright")
    assert str(tmp_path / "calibration" / "__init__.py") in done.stderr.splitlines()[-1]


def test_a_script_that_bears_such_a_name_is_told_of_itself(tmp_path: Path) -> None:
    script = tmp_path / "calibration.py"
    script.write_text("import bandwright\n", encoding="utf-8")
    done = _python(tmp_path, script.name)
    assert done.stderr.count("\nImportError: ") == 1
    assert str(script) in done.stderr.splitlines()[-1]


def test_a_folder_that_is_no_package_is_in_nobodys_way(tmp_path: Path) -> None:
    (tmp_path / "calibration").mkdir()
    assert _python(tmp_path, "-c", "import bandwright").returncode == 0


@pytest.mark.parametrize("name", ["acquire", "calibration", "acceptance", "replay"])
def test_the_command_finds_its_own_packages(name: str, tmp_path: Path) -> None:
    (tmp_path / f"{name}.py").write_text(RAN, encoding="utf-8")
    done = _python(tmp_path, "-m", "dashboard", "bands", "20")
    assert (done.returncode, done.stderr) == (0, "")
    assert "LTE 20" in done.stdout


def _python(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments], cwd=folder, capture_output=True, text=True, check=False
    )
