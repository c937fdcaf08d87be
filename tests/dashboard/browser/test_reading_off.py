"""Reading off: markers that stay, zoom, dips, held traces, copies, paper; by hand and by key."""

from __future__ import annotations

import re
from typing import Literal

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import PHONE, Site
from tests.dashboard.conftest import settled

APART = """(root) => {
  const boxes = [...document.querySelectorAll(`${root} svg text`)]
    .filter((text) => text.textContent && !text.closest('.markers'))
    .map((text) => [text.textContent, text.getBoundingClientRect()])
    .filter(([, box]) => box.width > 0 && box.right - box.left > box.bottom - box.top - 4);
  const meet = (a, b) => a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 3 && b.top < a.bottom - 3;
  return boxes.flatMap(([name, box], i) => boxes.slice(i + 1).filter(([, other]) => meet(box, other)).map(([other]) => `${name} / ${other}`));
}"""  # noqa: E501

AXIS = """async () => {
  const { ALL, Axis, between, inRows, moved, roundTicks, sweptStretches, zoomed } = await import('/assets/plot_axis.js');
  const wrong = [];
  const is = (what, good) => good || wrong.push(what);
  const close = (a, b, by = 1e-6) => Math.abs(a - b) <= by;
  const grid = [...Array(101).keys()].map((i) => 700 + i).concat([...Array(401).keys()].map((i) => 1700 + i), [2500, 2501]);
  const stretches = sweptStretches(grid, []);
  is('three stretches', stretches.map(({ low, high }) => `${low}-${high}`).join() === '700-800,1700-2100,2500-2501');
  const axis = new Axis(stretches, ALL, 40, 1040);
  is('from edge to edge', axis.pieces[0].left === 40 && close(axis.pieces.at(-1).right, 1040));
  is('a narrow one is a picture', axis.pieces[2].right - axis.pieces[2].left > 50);
  is('nothing in a break', axis.x(1000) === null);
  for (const mhz of [700, 755.5, 800, 1700, 2099, 2500.5]) is(`there and back ${mhz}`, close(axis.mhz(axis.x(mhz)), mhz));
  const u = axis.u(axis.x(1800));
  const near = zoomed(ALL, 4, u);
  const closer = new Axis(stretches, near, 40, 1040);
  is('what is zoomed at stays', close((u - near.from) / (near.to - near.from), u, 1e-9) && closer.x(1800) !== null);
  is('back out is all', zoomed(near, 0.1) === ALL);
  is('moved no further than the end', close(moved(near, 99).to, 1));
  is('a range is taken either way round', between(0.6, 0.4).from === 0.4);
  is('round ticks', roundTicks(690, 960, 3).join() === '700,800,900');
  const rows = inRows([{ name: 'abcdef', x: 100 }, { name: 'abcdef', x: 110 }, { name: 'abcdef', x: 120 }], 2, 0, 500);
  is('names that touch stand in rows or are left out', rows.length === 2 && rows[0].row !== rows[1].row);
  return wrong;
}"""  # noqa: E501


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_what_is_shown_is_read_off(opened: Page, site: Site) -> None:
    page = opened
    settled(site.bench)
    page.locator('[data-view-to="read"]').click()
    plot = page.locator("#read-plot svg.wide")
    expect(plot.locator(".reach")).to_have_attribute("d", re.compile("^M"))
    expect(plot.locator(".break")).to_have_count(1)  # nothing is swept between 1014 and 1425 MHz
    hands.fits(page)
    assert page.evaluate(APART, "#read-plot") == []

    # a tap sets a marker; a typed one is told with its interval, VSWR and impedance
    box = plot.bounding_box()
    assert box is not None
    plot.click(position={"x": box["width"] * 0.7, "y": box["height"] * 0.6})
    page.locator("#marker-mhz").fill("826,5")
    page.locator("#marker-mhz").press("Enter")
    row = page.locator("#marker-list li", has_text="826.5 MHz")
    expect(row).to_contain_text("95 %: ")
    expect(row).to_contain_text("VSWR ")
    expect(row).to_contain_text("Ω")
    expect(page.locator("#marker-list li")).to_have_count(2)
    expect(plot.locator("[data-marker]")).to_have_count(2)
    page.locator("#marker-mhz").fill("1200")
    page.locator("#set-marker").click()
    beside = page.locator("#marker-list li", has_text="1200 MHz")
    expect(beside).to_contain_text("Nothing was swept here")
    beside.get_by_role("button").click()
    page.locator("#marker-mhz").fill("ten")
    page.locator("#set-marker").click()
    expect(page.locator("#marker-refused")).to_contain_text("in MHz")
    page.locator("#marker-mhz").fill("")
    expect(page.locator("#dip-list li").first).to_contain_text("−10 dB bandwidth")
    expect(page.locator("#dip-list li").first).to_contain_text("Loaded Q")

    # zoom by button and key; everything that is read stays where it is
    all_of_it = plot.locator(".trace:not(.second)").get_attribute("d")
    page.locator("#zoom-in").click()
    expect(page.locator("#read-plot .plot-all")).to_be_visible()
    page.locator("#marker-mhz").blur()
    page.keyboard.press("0")
    expect(page.locator("#read-plot .plot-all")).to_be_hidden()
    assert all_of_it is not None

    # held by name, several at once, in impedance too
    page.get_by_role("button", name="Hold this trace").click()
    expect(page.locator("#held-list li")).to_have_count(1)
    name = page.locator("#held-list input[type=text]")
    name.fill("bare")
    name.blur()
    expect(page.locator("#held-list small")).to_contain_text("compared")
    hands.wait_until(page, "document.querySelector('#held-list input[type=text]').value === 'bare'")
    page.locator('#view-read [data-metric-to="impedance"]').click()
    for curve in plot.locator(".held-0").all():
        expect(curve).to_have_attribute("d", re.compile("^M"))
    page.locator('#view-read [data-metric-to="smith"]').click()
    expect(page.locator("#read-smith .markers g")).to_have_count(2)
    expect(page.locator("#read-smith .edge-name").first).to_be_visible()
    assert page.evaluate(APART, "#read-smith") == []
    hands.fits(page)
    schemes: tuple[Literal["light", "dark"], ...] = ("light", "dark")
    for scheme in schemes:
        page.emulate_media(color_scheme=scheme)
        assert page.evaluate("tooFaint()") == []

    # they stay: on the bench, and after the page is loaded again
    page.reload()
    expect(page.locator("#marker-list li")).to_have_count(2)
    page.locator('nav [data-view-to="bench"]').click()
    expect(page.locator("#marker-line li")).to_have_count(2)
    assert [each.name for each in site.bench.snapshot().holds] == ["bare"]


@pytest.mark.calibrated
def test_hands_keys_clipboard_and_paper(opened: Page, site: Site) -> None:
    page = opened
    settled(site.bench)
    page.keyboard.press("i")
    plot = page.locator("#read-plot svg.wide")
    expect(plot.locator(".trace:not(.second)")).to_have_attribute("d", re.compile("^M"))
    # by keys alone: where the arrows lead, and at the worst point
    page.keyboard.press("k")
    expect(page.locator("#marker-list li")).to_have_count(1)
    plot.focus()
    for key in ("ArrowRight", "ArrowRight", "Enter"):
        page.keyboard.press(key)
    expect(page.locator("#marker-list li")).to_have_count(2)
    # a drag enlarges what it crosses; then it moves
    box = plot.bounding_box()
    assert box is not None
    across = box["y"] + box["height"] / 2
    before = page.locator("#read-plot .tick").all_text_contents()
    page.mouse.move(box["x"] + 0.5 * box["width"], across)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.7 * box["width"], across, steps=3)
    page.mouse.up()
    expect(page.locator("#read-plot .plot-all")).to_be_visible()
    assert page.locator("#read-plot .tick").all_text_contents() != before
    page.keyboard.press("+")
    page.locator("#read-plot .plot-all").click()
    expect(page.locator("#read-plot .plot-all")).to_be_hidden()
    expect(page.locator("#marker-list li")).to_have_count(2)  # none of it set a marker

    # copies: the picture and the table that are saved; without a clipboard it is said
    page.context.grant_permissions(["clipboard-read", "clipboard-write"], origin=site.url)
    page.locator("#copy-data").click()
    expect(page.locator("#copied")).to_contain_text("on the clipboard")
    page.locator("#copy-picture").click()
    expect(page.locator("#copied")).to_have_text("The picture is on the clipboard.")
    page.evaluate("Object.defineProperty(navigator, 'clipboard', {value: undefined})")
    page.locator("#copy-picture").click()
    expect(page.locator("#copied")).to_contain_text("Use Save")

    assert page.evaluate(AXIS) == []

    # on paper: the plot and what is read, and nothing to press
    page.emulate_media(media="print", color_scheme="dark")
    expect(plot).to_be_visible()
    expect(page.locator("#marker-list")).to_be_visible()
    for control in (".top", ".read-tools", "#marker-form", "#next-step"):
        expect(page.locator(control).first).to_be_hidden()
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(255, 255, 255)"


def test_a_standard_is_seen_live_while_it_is_connected(opened: Page, site: Site) -> None:
    page = opened
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    page.keyboard.press("c")
    page.get_by_role("button", name="Start the calibration").click()
    live = page.locator("#standard-live .trace.now").first
    expect(live).to_have_attribute("d", re.compile("^M"))
    expect(page.locator("#standard-live-words")).to_contain_text("as the analyzer sends it")
    first = live.get_attribute("d")
    site.bench.hands.screw_on("load")
    hands.wait_until(
        page, f"document.querySelector('#standard-live .now').getAttribute('d') !== '{first}'"
    )
    hands.fits(page)
