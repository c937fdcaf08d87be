"""A stranger's page, open in the same browser: it sees nothing of the bench and changes nothing."""

from __future__ import annotations

import http.server
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from dashboard.page.plan_form import read_plan
from tests.dashboard.conftest import until

ATTEMPTS = Path(__file__).with_name("stranger.js").read_text(encoding="utf-8")
FORM = """
(target) => {
  const form = document.createElement("form");
  Object.assign(form, { method: "post", enctype: "text/plain" });
  form.action = `${target}_dash-update-component`;
  const field = document.createElement("input");
  const action = { id: "action", property: "data", value: { do: "hold", number: 1 } };
  const answer = { id: "answer", property: "children" };
  const body = { output: "answer.children", outputs: answer, inputs: [action] };
  // As text/plain the two join, by the "=" between them, into JSON.
  field.name = `${JSON.stringify({ ...body, changedPropIds: ["action.data"] }).slice(0, -1)},"x":"`;
  field.value = '"}';
  form.append(field);
  document.body.replaceChildren(form);
  form.submit();
}
"""


class Quiet(http.server.BaseHTTPRequestHandler):
    """A stranger's server: one empty page."""

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!DOCTYPE html><title>a stranger</title><body></body>")

    def log_message(self, format: str, *_: Any) -> None:  # noqa: A002 - the library's name
        """Say nothing."""


@pytest.fixture
def stranger() -> Iterator[int]:
    """The port of a stranger's page on this machine."""
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Quiet)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield server.server_port
    server.shutdown()
    thread.join()
    server.server_close()


# The same machine by the same name but another port (the same site, says a browser), by another
# name of this machine, and a site of somebody else's.
@pytest.mark.parametrize("name", ["127.0.0.1", "localhost", "evil.example"])
def test_another_origin_sees_nothing_and_changes_nothing(
    opened: Page, context: BrowserContext, site: Any, stranger: int, name: str
) -> None:
    token = opened.locator('meta[name="bandwright-token"]').get_attribute("content")
    page = context.new_page()
    page.goto(f"http://{name}:{stranger}/")
    outcome = page.evaluate(ATTEMPTS, {"target": site.url, "token": token})
    # Unseen answers and beacons are sent blindly; nobody hears what became of them.
    assert outcome.pop("post unseen") in ("opaque", "refused: TypeError")
    assert outcome.pop("beacon") == "sent"
    assert {name: each for name, each in outcome.items() if not each.startswith("refused")} == {}
    page.evaluate(FORM, site.url)
    expect(page.locator("body")).to_contain_text("does not come from the page")
    assert site.bench.snapshot().holds == ()


def test_a_foreign_name_for_this_machine_leads_nowhere(page: Page, site: Any) -> None:
    answer = page.goto(f"http://evil.example:{site.port}/")
    assert answer is not None
    assert answer.status == 400
    assert page.locator("#page").count() == 0


def test_the_page_itself_changes_what_it_wants_without_a_word_of_its_policy(
    opened: Page, site: Any
) -> None:
    opened.keyboard.press("h")
    expect(opened.locator("#holds button")).to_have_count(1)
    for key in "rvzsocawb":
        opened.keyboard.press(key)
    opened.locator("#plan-open").click()
    opened.locator("#plan-region").select_option(label="United Kingdom")
    expect(opened.locator("#plan-ask")).to_contain_text("United Kingdom")
    assert len(site.bench.snapshot().holds) == 1


def test_a_page_that_outlived_its_server_is_still_heard(opened: Page, site: Any) -> None:
    site.stop()
    opened.wait_for_selector('#page[data-feed="lost"]')
    site.start()
    until(site.bench, lambda now: now.sequence > 0)  # before that there is nothing to hold
    opened.wait_for_selector('#page[data-feed="live"]')
    opened.keyboard.press("h")
    expect(opened.locator("#holds button")).to_have_count(1)


MARKUP = '<img src=x onerror="document.title=1">'
LINK = "<a href='http://evil.example'>n3</a> <b>{x}</b>"
HOSTILE = f"""
name = '{MARKUP}'
[[band]]
name = "{LINK}"
low_mhz = 800.0
high_mhz = 820.0
return_loss_db = 10
"""


def test_markup_in_a_name_is_shown_as_it_is_written(opened: Page, site: Any) -> None:
    site.bench.use_plan(read_plan(HOSTILE))
    expect(opened.locator("#plan-name")).to_have_text(MARKUP)
    expect(opened.locator("#strips h2")).to_have_text(LINK)
    expect(opened.locator("#overview text", has_text="<a href=").first).to_be_attached()
    for key in "rvzsw":
        opened.keyboard.press(key)
    made = opened.locator("img[src=x], #page a[href*='evil'], #page b:text-is('{x}')")
    assert made.count() == 0
    assert opened.title() == "bandwright"
