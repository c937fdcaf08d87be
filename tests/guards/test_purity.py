"""The deciding core opens no file and keeps no global state: read off the syntax trees."""

from __future__ import annotations

import ast
from pathlib import Path

from tests.guards.house import syntax_tree

TOP = Path(__file__).parents[2]
MAY_TOUCH_FILES = {
    "acceptance/bands/load.py",
    "acceptance/catalogue/record_scan.py",
    "acceptance/catalogue/record_catalogue.py",
    "acceptance/catalogue/batch_checks.py",
    "acceptance/catalogue/known_good_checks.py",
    "acceptance/chain/chain_folder.py",
    "acceptance/plan/load.py",
    "acceptance/recheck/recheck_folder.py",
    "acceptance/recheck/stored_report.py",
    "acceptance/record/record_folder.py",
    "acceptance/record/unfinished_records.py",
    "acceptance/report/report_files.py",
    "acceptance/version.py",
    "calibration/files/store.py",
}
"""The only modules of the deciding core that read or write files, by path."""
PURE = [
    *sorted(
        path
        for package in ("calibration", "acceptance")
        for path in (TOP / package).rglob("*.py")
        if path.relative_to(TOP).as_posix() not in MAY_TOUCH_FILES
    ),
    TOP / "acquire" / "sweep.py",
    *sorted((TOP / "acquire" / "coverage").glob("*.py")),
    *sorted((TOP / "acquire" / "touchstone").glob("*.py")),
    *sorted((TOP / "acquire" / "dialect").glob("*.py")),
]
FILE_CALLS = {"open", "read_text", "read_bytes", "write_text", "write_bytes", "unlink", "mkdir"}
FILE_MODULES = {"os", "pathlib", "shutil", "tempfile", "io", "importlib", "subprocess", "random"}
NOW_CALLS = {"now", "utcnow", "today"}


def offences(tree: ast.AST) -> list[str]:
    """Name every place where a module reaches for a file, the clock or a global."""
    found: list[str] = []
    for node in ast.walk(tree):
        match node:
            case ast.Call(func=ast.Name(id=name)) if name in FILE_CALLS:
                found.append(f"line {node.lineno}: {name}()")
            case ast.Call(func=ast.Attribute(attr=name)) if name in FILE_CALLS | NOW_CALLS:
                found.append(f"line {node.lineno}: .{name}()")
            case ast.Import(names=names):
                found += [
                    f"line {node.lineno}: import {alias.name}"
                    for alias in names
                    if alias.name.split(".")[0] in FILE_MODULES
                ]
            case ast.ImportFrom(module=str(module)) if module.split(".")[0] in FILE_MODULES:
                found.append(f"line {node.lineno}: from {module}")
            case ast.Global():
                found.append(f"line {node.lineno}: global")
            case _:
                pass
    return found


def test_a_pure_module_touches_no_file_clock_or_global() -> None:
    assert len(PURE) > 100
    assert {path: found for path in PURE if (found := offences(syntax_tree(path)))} == {}


def test_the_guard_sees_what_it_is_there_to_see() -> None:
    source = "import os\nfrom pathlib import Path\nopen('x')\nPath('x').read_text()\nd.now()\n"
    assert len(offences(ast.parse(source))) == 5


def test_the_modules_that_may_touch_files_are_there() -> None:
    assert [place for place in MAY_TOUCH_FILES if not (TOP / place).exists()] == []
