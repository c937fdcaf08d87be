"""The chapters as pages: Markdown in, markup out, every link of it leading to where it is served.

In a checkout the chapters are those of docs/; an installed program has them beside this module, put
there as the wheel is built (setup.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from markdown_it import MarkdownIt
from markdown_it.token import Token

CHAPTERS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Start here", ("first-hour", "plans", "kits", "calibrating-well", "tuning")),
    (
        "Go on",
        ("the-record", "batches", "station", "cables", "how-far-can-i-trust-it", "protocols"),
    ),
    ("Look up", ("commands", "glossary", "faults", "threats", "speed")),
    ("Extend", ("wiring-a-profile", "from-python")),
)
"""Every chapter by its file's name, in the order in which a newcomer needs them."""
NAMES: tuple[str, ...] = tuple(name for _, names in CHAPTERS for name in names)
CHAPTER_OF_VIEW = {
    "bench": "tuning",
    "read": "tuning",
    "calibrate": "calibrating-well",
    "accept": "the-record",
    "wall": "tuning",
    "cable": "cables",
    "records": "the-record",
    "recheck": "the-record",
    "delete": "the-record",
    "compare": "batches",
    "batch": "batches",
    "port": "first-hour",
    "station": "station",
}
"""The chapter that Help opens on each view."""
FIRST_CHAPTER = "first-hour"
"""What Help opens where a view has no chapter of its own."""
PLACE = "/help"
"""Where the chapters are served."""
PICTURE = re.compile(r"[a-z0-9-]+\.(?:png|svg)")


def source() -> Traversable:
    """The folder with the chapters and, below it, their pictures."""
    shipped = files("dashboard.help").joinpath("chapters")
    return shipped if shipped.is_dir() else Path(__file__).parents[2] / "docs"


def chapter_text(name: str) -> str:
    """A chapter's Markdown. Raises KeyError for a name that is no chapter's."""
    if name not in NAMES:
        raise KeyError(name)
    return source().joinpath(f"{name}.md").read_text(encoding="utf-8")


def chapter_title(name: str) -> str:
    """A chapter's own heading, as plain text."""
    return chapter_text(name).partition("\n")[0].removeprefix("# ").strip()


def picture(name: str) -> bytes | None:
    """A picture that a chapter shows, or None where there is none of that name."""
    if not PICTURE.fullmatch(name):
        return None
    file = source().joinpath("pictures").joinpath(name)
    return file.read_bytes() if file.is_file() else None


@cache
def rendered(name: str) -> str:
    """A chapter as HTML, from its first heading on. Raises KeyError for no chapter's name.

    Markup in the Markdown is shown as text. A link to another chapter leads to where that one is
    served; one to a file that is not shipped keeps its words and loses its link.
    """
    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = parser.parse(chapter_text(name))
    slugs: dict[str, int] = {}
    for at, token in enumerate(tokens):
        if token.type == "heading_open":
            token.attrSet("id", _unique(slug(_plain(tokens[at + 1].children or ())), slugs))
        elif token.type == "table_open":
            token.attrSet("tabindex", "0")  # wide ones scroll, by keyboard too
        elif token.type == "fence":
            token.attrSet("tabindex", "0")
        elif token.children:
            token.children = list(_relinked(token.children))
    return str(parser.renderer.render(tokens, parser.options, {}))


def slug(heading: str) -> str:
    """A heading's anchor, made as code hosts make it."""
    kept = re.sub(r"[^\w\- ]", "", heading.strip().lower())
    return kept.replace(" ", "-")


def _unique(name: str, seen: dict[str, int]) -> str:
    seen[name] = seen.get(name, -1) + 1
    return name if seen[name] == 0 else f"{name}-{seen[name]}"


def _plain(tokens: Sequence[Token]) -> str:
    return "".join(each.content for each in tokens if each.type in ("text", "code_inline"))


def _relinked(tokens: Sequence[Token]) -> Iterator[Token]:
    """The same tokens, every link and picture leading to where the server has it."""
    dropped = False
    for token in tokens:
        if token.type == "image":
            token.attrSet("src", f"{PLACE}/{token.attrGet('src')}")
            token.attrSet("loading", "lazy")
        elif token.type == "link_open":
            target = _served(str(token.attrGet("href")))
            dropped = not target
            token.attrSet("href", target)
        if dropped and token.type in ("link_open", "link_close"):
            continue
        yield token


def _served(link: str) -> str:
    """Where a link of a chapter leads on the server; empty where that is not shipped."""
    if link.startswith(("#", "https://")):
        return link
    file, sharp, anchor = link.partition("#")
    name = file.removesuffix(".md")
    return f"{PLACE}/{name}{sharp}{anchor}" if name in NAMES and file != name else ""
