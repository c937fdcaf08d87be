"""What the documentation's pictures say, the page still says in the same scene."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from docs.picture_words import changed_words, words_file
from docs.pictures import PICTURES, drawn, scenes


@pytest.mark.slow
def test_every_picture_shows_the_words_of_the_page_as_it_is(
    browser: Browser, tmp_path: Path
) -> None:
    changed: list[str] = []
    taken: set[str] = set()

    def compare(page: Page, name: str) -> None:
        drawn(page)
        taken.add(name)
        changed.extend(changed_words(page, PICTURES / f"{name}.png"))

    scenes(browser, tmp_path, compare)
    assert not changed, "run `make pictures`:\n" + "\n".join(changed)
    assert taken == {path.stem for path in PICTURES.glob("*.png")}
    assert all(words_file(path).exists() for path in PICTURES.glob("*.png"))
