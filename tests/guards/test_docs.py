"""What the documentation points at is there, and the files it shows can be used."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from acceptance.bands.load import load_bands
from acceptance.plan.load import load_presets
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import parse_recipe
from acquire.analyzer.profile import parse_profile
from calibration.files.device_file import parse_device
from calibration.standards.kit_file import parse_kit
from dashboard.acceptance_run.station_file import parse_station
from tests.guards.house import HOUSE
from tests.guards.named import missing, named

TOP = Path(__file__).parents[2]
CHAPTERS = sorted((TOP / "docs").glob("*.md"))
DECISIONS = sorted(
    (TOP / "docs" / "decisions").glob("[0-9]*.md"), key=lambda file: int(file.name.split("-")[0])
)
INDEX = TOP / "docs" / "decisions" / "README.md"
GLOSSARY = TOP / "docs" / "glossary.md"
FOR_CONTRIBUTORS = [TOP / "DEVELOPERS.md", TOP / "CONTRIBUTING.md", GLOSSARY, INDEX, *DECISIONS]
PAGES = sorted({TOP / "README.md", *CHAPTERS, *FOR_CONTRIBUTORS})
PARTS = ["Context", "Decision", "Consequence", "Date"]
FIELD = """
    device under test, de-embedding, port extension, electrical length, uncertainty budget,
    expanded uncertainty, combined uncertainty, coverage factor, confidence interval,
    sensitivity, residual error, error terms, directivity, source match, reflection tracking,
    reference plane, drift check, verification device, connector repeatability, time gating,
    distance to fault, common-mode current, memory trace, resonance, return loss, VSWR, guard
    band, uncertainty floor
"""
"""The field's terms that somebody will look for."""
LINK = re.compile(r"\]\(([^)#\s]+)[^)]*\)")
TOML = re.compile(r"^ *```toml\n(.*?)^ *```", re.DOTALL | re.MULTILINE)
BLOCKS = [
    pytest.param(page, block, id=f"{page.name}-{number}")
    for page in PAGES
    for number, block in enumerate(TOML.findall(page.read_text(encoding="utf-8")))
]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    links = [link for link in LINK.findall(page.read_text(encoding="utf-8")) if "://" not in link]
    assert [link for link in links if not (page.parent / link).exists()] == []


@pytest.mark.parametrize(("page", "block"), BLOCKS)
def test_every_file_that_is_shown_can_be_used(page: Path, block: str) -> None:
    if "[[band]]" in block:
        parse_plan(block, page.name, load_bands(), load_presets())
    elif "[[dimension]]" in block:
        parse_recipe(block, page.name)
    elif "[known_good]" in block:
        parse_station(block, page.name)
    elif 'form = "short"  ' in block:
        parse_device(block, page.name, lambda _: pytest.fail("the device shown needs no file"))
    elif "[standard." in block:
        parse_kit(block, page.name, lambda _: pytest.fail("the kit shown needs no other file"))
    else:
        parse_profile(block, page.name)


def test_there_is_one_of_each_kind() -> None:
    shown = "".join(block.values[1] for block in BLOCKS)
    assert all(part in shown for part in ("[[band]]", "[standard.", "[words]"))


def test_every_picture_is_shown_somewhere() -> None:
    text = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    pictures = sorted((TOP / "docs" / "pictures").glob("*.*g"))
    assert pictures
    assert [picture.name for picture in pictures if picture.name not in text] == []


@pytest.mark.parametrize("file", DECISIONS, ids=lambda file: file.name.split("-")[0])
def test_a_decision_has_its_four_parts_and_a_date(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    heading, _, rest = text.partition("\n")
    number, title = re.fullmatch(r"# (\d\d+)\. (.+)", heading).groups()  # type: ignore[union-attr]
    slug = re.sub(r"[^a-z0-9]+", "-", title.lower().replace("'s", "s")).strip("-")
    assert file.stem == f"{number}-{slug}"
    assert re.findall(r"^\*\*(\w+)\.\*\*", rest, re.MULTILINE) == PARTS
    decided = re.search(r"^\*\*Date\.\*\* (\S+)$", rest, re.MULTILINE)
    assert decided
    assert date.fromisoformat(decided[1]) >= date(2026, 11, 25)
    assert len(text.splitlines()) <= 30


def test_decisions_are_numbered_without_a_gap_and_listed_once_each() -> None:
    assert [file.name.split("-")[0] for file in DECISIONS] == [
        f"{number:02}" for number in range(1, len(DECISIONS) + 1)
    ]
    links = re.findall(r"- \[([^]]+)\]\((\d\d+-[^)]+)\)", INDEX.read_text(encoding="utf-8"))
    assert sorted(name for _, name in links) == sorted(file.name for file in DECISIONS)
    for title, name in links:
        text = (INDEX.parent / name).read_text(encoding="utf-8")
        assert text.startswith(f"# {title}\n")


@pytest.mark.parametrize("file", FOR_CONTRIBUTORS, ids=lambda file: file.name[:20])
def test_every_module_and_path_that_is_named_is_there(file: Path) -> None:
    assert missing(file.read_text(encoding="utf-8"), HOUSE) == []


def test_the_house_in_one_screen_names_every_room() -> None:
    block = re.search(r"## The house\n.*?```\n(.*?)```", _text("DEVELOPERS.md"), re.DOTALL)
    assert block
    drawn: dict[str, set[str]] = {}
    package = ""
    for line in block[1].splitlines():
        if name := re.match(r"([a-z]+)/", line):
            package = name[1]
        elif room := re.match(r"  ([a-z_]+)(/?) ", line):
            drawn.setdefault(package, set()).add(room[1])
    for package in ("dashboard", "replay", "acceptance", "calibration", "acquire"):
        folders = {
            room.split(".")[1]
            for room in HOUSE.rooms(package)
            if HOUSE.files.get(room) is None or HOUSE.files[room].name == "__init__.py"
        }
        assert drawn[package] == folders, package


@pytest.mark.parametrize(
    "file",
    [TOP / "README.md", TOP / "DEVELOPERS.md", INDEX, *(c for c in CHAPTERS if c != GLOSSARY)],
    ids=lambda file: file.name,
)
def test_every_chapter_leads_to_the_glossary(file: Path) -> None:
    links = LINK.findall(file.read_text(encoding="utf-8"))
    assert GLOSSARY in [(file.parent / link).resolve() for link in links if "://" not in link]


def test_the_glossary_begins_with_the_terms_of_the_field() -> None:
    text = GLOSSARY.read_text(encoding="utf-8").casefold()
    field, own = text.index("## the field's terms"), text.index("## this project's own words")
    assert field < own
    for term in " ".join(FIELD.split()).split(", "):
        assert f"**{term.casefold()}" in text[field:own], term


def test_contributors_are_led_to_all_there_is() -> None:
    links = LINK.findall(_text("DEVELOPERS.md"))
    assert {"docs/glossary.md", "docs/decisions/README.md", "docs/threats.md"} <= set(links)
    assert "DEVELOPERS.md" in LINK.findall(_text("CONTRIBUTING.md"))
    assert len(_text("DEVELOPERS.md").splitlines()) < 250


def _text(name: str) -> str:
    return (TOP / name).read_text(encoding="utf-8")


def test_the_readme_is_read_in_three_minutes() -> None:
    assert len(_text("README.md").split()) <= 600


def test_the_guard_sees_what_is_not_there() -> None:
    there = ["acquire.errors", "acquire.errors.PortError", "docs/*.md"]
    absent = ["acquire.errors.Nothing", "acquire.nowhere", "docs/nothing.md"]
    text = " ".join(f"`{each}`" for each in [*there, *absent, "acquire", "make x", "record.json"])
    assert named(text) == [*there, *absent]
    assert missing(text, HOUSE) == absent
