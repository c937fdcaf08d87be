"""The chapters of the help are those of docs/, and every link and picture leads somewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from dashboard.help.chapters import (
    CHAPTER_OF_VIEW,
    FIRST_CHAPTER,
    NAMES,
    PLACE,
    chapter_title,
    picture,
    rendered,
    slug,
)

DOCS = Path(__file__).parents[3] / "docs"


def test_every_chapter_is_listed_once_and_every_view_has_one_of_them() -> None:
    assert sorted(NAMES) == sorted(path.stem for path in DOCS.glob("*.md"))
    assert {FIRST_CHAPTER, *CHAPTER_OF_VIEW.values()} <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_every_link_of_a_chapter_leads_to_a_heading_or_a_picture_that_is_there(name: str) -> None:
    html = rendered(name)
    assert html.startswith(f'<h1 id="{slug(chapter_title(name))}">')
    for link in re.findall(r'<a href="([^"]*)"', html):
        if link.startswith("https://"):
            continue
        path, _, anchor = link.partition("#")
        chapter = path.removeprefix(f"{PLACE}/") if path else name
        assert chapter in NAMES, link
        assert not anchor or f'id="{anchor}"' in rendered(chapter), link
    for source in re.findall(r'<img src="([^"]*)"', html):
        assert picture(source.removeprefix(f"{PLACE}/pictures/")), source


def test_a_link_to_what_is_not_shipped_keeps_its_words() -> None:
    assert "DEVELOPERS.md</a>" not in rendered("glossary")
    assert "DEVELOPERS.md" in rendered("glossary")


def test_markup_in_a_chapter_is_shown_and_does_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    evil = '# Plans\n\n<script>x()</script>\n\n[y](javascript:x) <b onclick="x()">z</b>\n'
    monkeypatch.setattr("dashboard.help.chapters.chapter_text", lambda _: evil)
    html = rendered.__wrapped__("plans")
    assert re.findall(r"<(?!/)(\w+)", html) == ["h1", "p", "p"]


@pytest.mark.parametrize("name", ["../glossary", "", "nothing", "decisions"])
def test_what_is_no_chapter_is_not_read(name: str) -> None:
    with pytest.raises(KeyError):
        rendered(name)


@pytest.mark.parametrize("name", ["../glossary.md", "nothing.png", "../pictures/bench.png", ".png"])
def test_what_is_no_picture_is_not_read(name: str) -> None:
    assert picture(name) is None
