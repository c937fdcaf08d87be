"""HTML attributes that Python cannot spell (data-..., aria-...), and what a button does by them."""

from __future__ import annotations

import json
from typing import Any

from dash import html

from dashboard.page.actions.table import ACTIONS


def data(**values: str) -> dict[str, Any]:
    """`data-` attributes; an underscore in a name becomes a dash."""
    return {f"data-{name.replace('_', '-')}": value for name, value in values.items()}


def aria(**values: str) -> dict[str, Any]:
    """`aria-` attributes."""
    return {f"aria-{name}": value for name, value in values.items()}


def does(name: str) -> dict[str, Any]:
    """What a button does, and which keys press it, by the table of actions.

    What it takes is put beside it by the page's script. Raises KeyError where there is none.
    """
    action = ACTIONS[name]
    found = {} if action.does is None else data(action=json.dumps({"do": name}))
    if action.keys:
        found |= data(keys=" ".join(action.keys)) | aria(keyshortcuts=" ".join(action.keys))
    if action.while_shown:
        found |= data(while_shown=action.while_shown)
    if action.rather:
        found |= data(rather=action.rather)
    return found


def taps(name: str) -> dict[str, Any]:
    """For what the page's script fills with buttons of one action: the key of each, in order."""
    action = ACTIONS[name]
    return data(taps=" ".join(action.keys), while_shown=action.while_shown)


def key_cap(name: str) -> html.Kbd:
    """The key that does it, as it is drawn on its button; the button's name goes without it."""
    action = ACTIONS[name]
    return html.Kbd(action.shown_keys or action.keys[0], **aria(hidden="true"))
