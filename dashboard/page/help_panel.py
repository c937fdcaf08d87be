"""The help beside every view: its chapter in a panel, and the words that the glossary explains."""

from __future__ import annotations

import json
from typing import Any

from dash import html

from dashboard.help.chapters import CHAPTER_OF_VIEW, CHAPTERS, FIRST_CHAPTER, PLACE, chapter_title
from dashboard.help.glossary import has_term
from dashboard.page.html_attributes import aria, data, does


def help_button() -> html.Button:
    """Opens the chapter of the view that is shown."""
    return html.Button(
        "Help",
        id="help-open",
        type="button",
        className="icon wide-icon",
        title="Help on this view",
        **data(opens="help"),
        **does("open help"),
    )


def help_about(chapter: str, words: str = "Help") -> html.Button:
    """Opens one chapter, or a heading in it (`"plans"`, `"cables#types-of-cable"`)."""
    return html.Button(
        words, type="button", className="quiet", **data(opens="help", chapter=chapter)
    )


def help_panel() -> Any:
    """A panel at the side; the script fills it with the chapter that is asked for."""
    return html.Dialog(
        html.Div(
            [
                html.Header(
                    [
                        html.H2("Help"),
                        html.A(
                            "Open in a new tab",
                            id="help-alone",
                            href=PLACE,
                            target="_blank",
                        ),
                        html.Button(
                            "Close", type="button", className="quiet", **data(closes="help")
                        ),
                    ]
                ),
                html.Details(
                    [
                        html.Summary("All chapters"),
                        html.Nav(
                            [
                                html.A(chapter_title(name), href=f"{PLACE}/{name}")
                                for _, names in CHAPTERS
                                for name in names
                            ],
                            id="help-chapters",
                            **aria(label="Chapters"),
                        ),
                    ],
                    id="help-contents",
                ),
                html.Article(id="help-chapter", className="chapter", tabIndex=-1),
            ]
        ),
        id="help",
        **data(chapters=json.dumps({"": FIRST_CHAPTER, **CHAPTER_OF_VIEW})),
        **aria(label="Help"),
    )


def term(words: str, meaning: str = "") -> html.Button:
    """A word of the page that shows its line of the glossary when hovered, tapped or focused.

    meaning : the glossary's own word for it, where another one stands on the page. Raises KeyError
    where the glossary has no such word.
    """
    return html.Button(words, type="button", className="term", **_explained(meaning or words))


def explains(name: str) -> dict[str, Any]:
    """The same for text that the script fills, such as a figure with its name: its attributes.

    Raises KeyError where the glossary has no such word.
    """
    return {"tabIndex": 0, **_explained(name)}


def _explained(name: str) -> dict[str, Any]:
    if not has_term(name):
        raise KeyError(f"docs/glossary.md does not explain {name!r}")
    return data(term=name.casefold())
