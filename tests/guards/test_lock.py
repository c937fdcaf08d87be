"""The locks pin what pyproject.toml asks for, each by hash, and name no place to take it from."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

TOP = Path(__file__).parents[2]
PROJECT = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
APP = PROJECT["dependencies"]
TEST = [*APP, *PROJECT["optional-dependencies"]["test"]]
WHOLE = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))
TOOLS = WHOLE["dependency-groups"]["tools"]
LOCKS = {
    "requirements.lock": APP,
    "requirements-test.lock": TEST,
    "requirements-tools.lock": TOOLS,
}
MAKEFILE = TOP / "Makefile"
LICENCES = TOP / "THIRD-PARTY-LICENCES.txt"
HASH = re.compile(r"--hash=sha256:[0-9a-f]{64}")


def pinned(text: str) -> dict[str, tuple[list[str], int]]:
    """Versions of every package of a lock (more than one where systems differ), and its hashes.

    Raises ValueError for a line that is neither pin, hash nor comment.
    """
    found: dict[str, tuple[list[str], int]] = {}
    for entry in text.replace("\\\n", " ").splitlines():
        if not entry.strip() or entry.lstrip().startswith("#"):
            continue
        hashes = HASH.findall(entry)
        what = Requirement(HASH.sub("", entry).strip())
        exact = [each.version for each in what.specifier if each.operator == "=="]
        if len(exact) != 1 or not hashes or what.url:
            raise ValueError(f"{entry[:60]!r} is not pinned by version and hash")
        versions, count = found.get(canonicalize_name(what.name), ([], 0))
        found[canonicalize_name(what.name)] = [*versions, *exact], count + len(hashes)
    return found


@pytest.mark.parametrize("name", LOCKS)
def test_the_lock_satisfies_the_project(name: str) -> None:
    lock = pinned((TOP / name).read_text(encoding="utf-8"))
    for line in LOCKS[name]:
        wanted = Requirement(line)
        versions, _ = lock.get(canonicalize_name(wanted.name), ([], 0))
        assert versions, f"{wanted.name} is not in {name}: run `make lock`"
        for version in versions:
            assert wanted.specifier.contains(version), f"{line}: {version}; run `make lock`"


@pytest.mark.parametrize("name", LOCKS)
def test_the_lock_names_no_place_to_take_packages_from(name: str) -> None:
    text = (TOP / name).read_text(encoding="utf-8")
    assert re.findall(r"://|--index-url|--extra-index-url|--find-links|--trusted-host", text) == []


def test_tests_run_on_what_is_shipped() -> None:
    app, test = (pinned((TOP / name).read_text(encoding="utf-8")) for name in [*LOCKS][:2])
    assert {name: each[0] for name, each in app.items()} == {name: test[name][0] for name in app}


@pytest.mark.parametrize(
    "line",
    ["numpy>=2", "numpy==2.1.0", "numpy", "numpy @ file:///tmp/numpy.whl", "--index-url x"],
)
def test_the_guard_sees_what_is_not_pinned(line: str) -> None:
    with pytest.raises(ValueError, match=r"pinned|Expected|Invalid|Parse"):
        pinned(line)


@pytest.mark.parametrize("line", [*APP, *PROJECT["optional-dependencies"]["postgresql"]])
def test_what_the_program_needs_is_bounded_where_a_major_breaks_it(line: str) -> None:
    operators = {each.operator for each in Requirement(line).specifier}
    assert operators == {">=", "<"}, f"{line}: say below which version it was tried"


def test_an_audit_that_could_not_look_at_something_fails() -> None:
    (audit,) = re.findall(
        r"^\t(.*pip-audit.*)$", MAKEFILE.read_text(encoding="utf-8"), re.MULTILINE
    )
    assert "--strict" in audit.split()
    assert [each for each in audit.split() if each.endswith(".lock")] == [*LOCKS]


def test_the_tools_are_installed_by_their_lock_alone() -> None:
    installed = re.findall(r"pip install (.*)", MAKEFILE.read_text(encoding="utf-8"))
    for line in installed:
        assert "--require-hashes -r requirements" in line or "--no-deps --editable ." in line


def test_every_package_of_the_lock_stands_in_the_file_of_licences_and_that_is_shipped() -> None:
    text = LICENCES.read_text(encoding="utf-8")
    entries = pinned((TOP / "requirements.lock").read_text(encoding="utf-8"))
    for name, (versions, _) in entries.items():
        for version in versions:
            assert re.search(
                rf"^{re.escape(name)} {re.escape(version)}\b", text, re.MULTILINE | re.IGNORECASE
            ), f"{name} {version}: run `make licences`"
    assert LICENCES.name in PROJECT["license-files"]
