"""The plan made on the page: searched, ticked, limited, used; and by hand in its text."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

from playwright.sync_api import Page, Route, expect

from calibration.files.store import load_calibration
from dashboard.bench import calibration_folder
from dashboard.demo.scenario import PLAN
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import LOOK, Site
from tests.dashboard.conftest import until

PHONE_WIDTH = 390


def test_a_plan_is_searched_ticked_limited_and_used(opened: Page, site: Site, width: None) -> None:
    """From the demo's plan to another: five presses and what is typed."""
    page = opened
    narrow = page.viewport_size is not None and page.viewport_size["width"] == PHONE_WIDTH
    page.locator("#plan-open").click()
    chosen = page.locator("#plan-chosen li")
    expect(chosen).to_have_count(3)
    page.locator("#plan-find").fill("n78")
    expect(page.locator("#plan-found li")).to_contain_text(["NR n783300 to 3800 MHz"])
    page.locator("#plan-find").press("Enter")
    expect(chosen).to_have_count(4)
    expect(page.locator("#plan-found input")).to_be_checked()
    expect(page.locator("#plan-find")).to_be_focused()
    page.locator("#plan-find").fill("1800 MHz")
    page.locator("#plan-found label", has_text=re.compile("^LTE 3")).click()
    expect(chosen).to_have_count(5)
    page.get_by_label("Remove gauge backhaul").click()
    expect(chosen).to_have_count(4)
    page.get_by_label("One limit for all bands", exact=True).fill("9")
    page.get_by_label("One limit for all bands", exact=True).press("Tab")
    expect(page.get_by_label("Limit of NR n78", exact=True)).to_have_value("9")
    page.get_by_label("A limit for each link of LTE 20").click()
    page.get_by_label("Limit of LTE 20 downlink", exact=True).fill("8")
    page.get_by_label("Limit of LTE 20 downlink", exact=True).press("Tab")
    expect(page.locator("#plan-text")).to_have_value(
        re.compile(r"downlink = \{\s*return_loss_db = 8")
    )
    expect(page.locator("#plan-text")).to_have_value(re.compile("^" + re.escape(PLAN[:60])))
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.evaluate("document.querySelector('#plan').scrollWidth <= innerWidth")
    assert narrow == page.evaluate("innerWidth < 500")
    page.locator("#use-plan").click()
    expect(page.locator("#plan")).to_be_hidden()
    expect(page.locator("#strips .strip", has_text="NR n78")).to_be_attached()
    now = site.bench.snapshot()
    assert now.plan is not None
    assert [each.limit.value for each in now.plan.targets if each.name == "LTE 20"] == [9, 8]


def test_text_and_form_say_the_same_and_a_mistake_is_named_where_it_is(opened: Page) -> None:
    page = opened
    page.keyboard.press("p")
    expect(page.locator("#plan-find")).to_be_focused()
    page.locator("#plan-advanced summary").click()
    text = page.locator("#plan-text")
    text.fill('name = "mine"\n\n[[band]]\nlte = 2O\nvswr = 2\n')
    expect(page.locator("#plan-refused")).to_have_text(
        "Line 4: 2O is not a number. Did you type the letter O?"
    )
    expect(page.locator("#plan-find")).to_be_disabled()
    expect(page.locator("#use-plan")).to_be_disabled()
    text.fill('# kept\nname = "mine"\n\n[[band]]\nlte = 20\n')
    expect(page.locator("#plan-chosen .wrong")).to_contain_text("it has no limit")
    page.get_by_label("Limit of LTE 20", exact=True).fill("7")
    page.get_by_label("Limit of LTE 20", exact=True).press("Enter")
    page.get_by_label("Limit of LTE 20", exact=True).press("Tab")
    expect(text).to_have_value('# kept\nname = "mine"\n\n[[band]]\nlte = 20\nreturn_loss_db = 7\n')
    expect(page.locator("#use-plan")).to_be_enabled()
    expect(page.locator("#plan")).to_be_visible()  # no Enter closed it

    # A region asks before it replaces, and a step can be taken back.
    page.locator("#plan-region").select_option(label="Japan")
    ask = page.locator("#plan-ask")
    expect(ask).to_contain_text("Replace the band of this plan with those that Japan uses?")
    ask.get_by_role("button", name="Cancel").click()
    expect(page.locator("#plan-chosen li")).to_have_count(1)
    page.locator("#plan-region").select_option(label="Japan")
    ask.get_by_role("button", name="Replace them").click()
    expect(text).to_have_value(re.compile("lte = 19\nreturn_loss_db = 7"))
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(page.locator("#plan-chosen li")).to_have_count(1)

    # What is not in use yet stays when the dialog is closed, and is used lately once it was.
    page.keyboard.press("Escape")
    page.locator("#plan-open").click()
    expect(text).to_have_value(re.compile("^# kept"))
    expect(page.locator("#plan-state")).to_have_text("Not in use yet.")
    page.locator("#use-plan").click()
    expect(page.locator("#plan-name")).to_have_text("mine")


def test_a_slow_server_s_presses_wait_and_are_let_go_only_with_a_word(
    page: Page, site: Site
) -> None:
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.add_init_script(path=LOOK)
    page.clock.install()
    page.goto(site.url)
    page.wait_for_selector('#page[data-feed="live"]')
    page.route("**/_dash-update-component*", hold)
    for _ in range(3):
        page.locator("#hold").click()
    for _ in range(3):  # less at once than the feed may be silent for
        page.clock.run_for(1_900)
        swept = site.bench.snapshot().sequence
        hands.wait_until(
            page, f"Number(document.querySelector('#page').dataset.sequence) > {swept}"
        )
    answer = page.locator("#answer")
    expect(answer).to_have_text(
        "bandwright is still busy with what you pressed. 2 presses will follow."
    )
    page.unroute("**/_dash-update-component*")  # what was held goes on
    expect(page.locator("#holds button")).to_have_count(3)

    page.route("**/_dash-update-component*", hold)
    for _ in range(2):
        page.locator("#hold").click()
    site.stop()
    expect(page.locator("#page")).to_have_attribute("data-feed", "lost")
    page.clock.run_for(5_500)
    expect(answer).to_contain_text("1 press after it was not done")


def test_a_calibration_of_today_is_offered_with_its_age_and_what_it_covers(
    opened: Page, site: Site, kept_calibration: Path
) -> None:
    page, bench = opened, site.bench
    now = until(bench, lambda now: now.sequence > 0)
    kept = load_calibration(kept_calibration)
    made = dataclasses.replace(kept, taken_at=bench.clock.now())
    calibration_folder.keep(made, bench.calibration.folder)
    assert made.source.analyzer == now.port.analyzer
    page.keyboard.press("c")
    offered = page.locator("#kept-list li")
    expect(offered).to_contain_text(re.compile(r"Today: .* min old: covers all 3 bands"))
    offered.get_by_role("button").click()
    expect(page.locator("#answer")).to_contain_text("Put one standard back to check")
    expect(page.locator("#calibration-state")).to_have_attribute("data-state", "held")
    expect(page.locator("#kept-calibrations")).to_be_hidden()  # what is in use is not offered
    assert bench.snapshot().calibration.path == next(bench.calibration.folder.glob("*.json"))
