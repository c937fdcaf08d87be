"""The words that stand on a picture of the page, kept beside it as a text file.

A test compares them with what the page says now for the same scene, so that no picture shows words
that the program has given up. Numbers differ from run to run and are left out.
"""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import Page

VISIBLE = """() => {
  const lines = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const dialog = document.querySelector("dialog[open]");
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const parent = node.parentElement;
    if (!node.data.trim()) continue;
    if (parent.closest("svg, kbd, script, style, .only-spoken, .skip")) continue;
    if (dialog && !dialog.contains(parent)) continue;
    if (!parent.checkVisibility({ visibilityProperty: true })) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = range.getBoundingClientRect();
    if (box.bottom <= 0 || box.top >= innerHeight || box.width < 2) continue;
    if (box.right <= 0 || box.left >= innerWidth) continue;
    lines.push(node.data);
  }
  return lines;
}"""
NUMBER = re.compile(r"[−+<>±-]?\d[\d.,:]*")
PASSING = frozenset({"live"})
"""What comes and goes by the moment: how old the picture is."""

SHORT = {"up": "uplink", "down": "downlink"}
"""A narrow column of links writes these; how wide one is hangs on a pixel."""


def words_of(page: Page) -> list[str]:
    """Every piece of text in the window, in the page's order, each once, `#` for a number."""
    lines = (NUMBER.sub("#", " ".join(line.split())) for line in page.evaluate(VISIBLE))
    lines = (SHORT.get(line, line) for line in lines)
    return [line for line in dict.fromkeys(lines) if line not in PASSING and line != "#"]


def words_file(picture: Path) -> Path:
    """Where the words of a picture are kept."""
    return picture.with_suffix(".txt")


def write_words(page: Page, picture: Path) -> None:
    """Keep what stands on the page beside its picture."""
    words_file(picture).write_text("\n".join([*words_of(page), ""]), encoding="utf-8")


def changed_words(page: Page, picture: Path) -> list[str]:
    """What the page says now and the picture does not (+), and the other way round (-)."""
    kept = words_file(picture).read_text(encoding="utf-8").splitlines()
    now = words_of(page)
    return [
        *(f"{picture.stem}: - {line}" for line in kept if line not in now),
        *(f"{picture.stem}: + {line}" for line in now if line not in kept),
    ]
