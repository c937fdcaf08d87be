"""Help stands on every view, offline, and words of the page are explained where they are."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from dashboard.help.chapters import CHAPTER_OF_VIEW, chapter_title
from tests.dashboard.browser import hands


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_help_opens_the_chapter_of_the_view_and_leads_on_from_there(opened: Page) -> None:
    page = opened
    title = page.locator("#help-chapter h1")
    for view in ("bench", "calibrate", "accept"):
        page.locator(f'[data-view-to="{view}"]').first.click()
        page.locator("#help-open").click()
        expect(title).to_have_text(chapter_title(CHAPTER_OF_VIEW[view]))
        page.keyboard.press("Escape")
        expect(page.locator("#help")).to_be_hidden()
    page.keyboard.press("F1")
    page.locator("#help-chapter a", has_text="glossary").last.click()
    expect(title).to_have_text("Glossary")
    picture = page.locator("#help-chapter img")
    page.locator("#help-contents summary").click()
    page.locator("#help-chapters a", has_text="The first hour").click()
    expect(title).to_have_text("The first hour")
    hands.wait_until(page, "document.querySelector('#help-chapter img').naturalWidth > 0")
    assert picture.first.evaluate("img => img.getBoundingClientRect().right <= innerWidth")
    page.locator("#help-chapter a[href='#every-key']").first.click()
    expect(page.locator("#help-chapter [data-heading='every-key']")).to_be_in_viewport()
    assert page.evaluate("tooFaint()") == []
    page.get_by_role("link", name="Open in a new tab").scroll_into_view_if_needed()
    hands.fits(page)
    assert page.evaluate("document.querySelectorAll('#help [id=\"plans\"]').length") == 0


@pytest.mark.calibrated
def test_a_word_shows_its_line_of_the_glossary_by_pointer_focus_and_tap(opened: Page) -> None:
    page = opened
    word, line = page.locator("#trust"), page.locator("#term-line")
    expect(word).not_to_be_empty()
    said = re.compile("^Uncertainty floor: ")
    word.hover()
    expect(line).to_have_text(said)
    expect(line).to_be_visible()
    line.hover()  # the line itself can be reached, and stays
    expect(line).to_be_visible()
    page.mouse.move(1, 1)
    expect(line).to_be_hidden()
    page.locator("#plane-open").focus()
    page.keyboard.press("Tab")
    while page.evaluate("document.activeElement.id") != "trust":
        page.keyboard.press("Tab")
    expect(line).to_be_visible()
    assert word.get_attribute("aria-describedby") == "term-line"
    page.keyboard.press("Escape")
    expect(line).to_be_hidden()
    word.click()
    expect(line).to_be_visible()
    page.locator("#overview").click()
    expect(line).to_be_hidden()
