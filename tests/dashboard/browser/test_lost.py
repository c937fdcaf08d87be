"""A page whose server went away says so by itself, and joins again by itself."""

from __future__ import annotations

import re

from playwright.sync_api import Page, WebSocketRoute, expect

from tests.dashboard.browser.conftest import Site


def test_a_lost_server_is_told_with_the_age_of_the_picture_and_found_again(
    opened: Page, site: Site
) -> None:
    page = opened
    expect(page.locator("#lost")).to_be_hidden()
    site.stop()
    # Late is not gone: for a while the page only says that it tries again.
    expect(page.locator("#sentence")).to_have_text("Reconnecting…")
    expect(page.locator("#lost")).to_be_hidden()
    expect(page.locator("#page")).to_have_attribute("data-old", "true")
    expect(page.locator("#lost")).to_contain_text("bandwright has stopped. Start it again")
    expect(page.locator("#sentence")).to_have_text(re.compile(r"^This picture is \d+\.\d s old\.$"))
    expect(page.locator("#page")).to_have_attribute("data-old", "true")
    expect(page.locator("#port-state")).to_have_text("No connection")
    faded = page.locator("#strips").evaluate("e => getComputedStyle(e).filter")
    assert "grayscale(1)" in faded
    first = page.locator("#sentence").inner_text()
    expect(page.locator("#sentence")).not_to_have_text(first)  # it goes on counting

    site.start()
    expect(page.locator("#page")).to_have_attribute("data-feed", "live")
    expect(page.locator("#lost")).to_be_hidden()
    expect(page.locator("#page")).to_have_attribute("data-old", "false")
    expect(page.locator("#sentence")).to_have_text("Calibrate with open, short and load.")


NOTE_WHAT_IS_SAID = """
window.said = new Set();
new MutationObserver(() => {
  const [sentence, lost] = ["sentence", "lost"].map((id) => document.getElementById(id));
  if (sentence) window.said.add(sentence.textContent);
  if (lost && !lost.hidden) window.said.add(lost.textContent);
}).observe(document, { attributes: true, characterData: true, childList: true, subtree: true });
"""


def test_before_the_first_answer_the_page_is_connecting_and_says_nothing_else(
    page: Page, site: Site
) -> None:
    """A cold start, or a machine under load: sockets are closed before they say anything."""
    tries: list[WebSocketRoute] = []

    def met(socket: WebSocketRoute) -> None:
        tries.append(socket)
        if len(tries) < 4:
            socket.close()
        else:
            socket.connect_to_server()

    page.add_init_script(NOTE_WHAT_IS_SAID)
    page.route_web_socket(re.compile("/feed$"), met)
    page.goto(site.url)
    expect(page.locator("#sentence")).to_have_text("Calibrate with open, short and load.")
    assert len(tries) == 4
    assert set(page.evaluate("[...window.said]")) == {
        "Connecting…",
        "Calibrate with open, short and load.",
    }
