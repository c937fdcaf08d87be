"""A slow unit on the page: each strip's age, and what the mean is made of."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Workshop, watched_page
from tests.dashboard.conftest import until

pytestmark = [pytest.mark.usefixtures("width"), pytest.mark.calibrated]


def test_what_is_bent_is_seen_more_often_and_every_strip_tells_its_age(
    page: Page, slow: Workshop
) -> None:
    for opened in watched_page(page, slow.site):
        slow.advised()
        until(slow.site.bench, lambda now: now.watched is not None)
        ages = opened.locator("#strips .strip .age")
        expect(ages).to_have_count(5)
        expect(opened.locator("#strips .age", has_text="s old").first).to_be_visible()
        watched = slow.site.bench.snapshot().watched
        assert watched is not None
        hands.wait_until(
            opened,
            "[...document.querySelectorAll('#strips .age')].some(e => e.textContent === '') &&"
            "[...document.querySelectorAll('#strips .age')].some(e => e.textContent !== '')",
        )
        opened.evaluate("window.averaged = changesOf('averaged')")
        slow.analyzer.virtual.bend("arm_b", -1.0)
        hands.wait_until(opened, "averaged.includes('One sweep: it moves')")
        expect(opened.locator("#averaged")).to_contain_text("Mean of")
        hands.fits(opened)
