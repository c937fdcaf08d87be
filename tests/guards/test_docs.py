"""What the documentation points at is there, and the files it shows can be used."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from acceptance.bands.load import load_bands
from acceptance.plan.load import load_presets
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import parse_recipe
from acquire.analyzer.profile import parse_profile
from calibration.files.device_file import parse_device
from calibration.standards.kit import parse_kit

TOP = Path(__file__).parents[2]
PAGES = sorted([TOP / "README.md", TOP / "DEVELOPERS.md", *(TOP / "docs").glob("*.md")])
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
