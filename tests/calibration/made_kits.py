"""A builder's kit as a file writes it, for tests to add to; a reader of data that has none."""

from __future__ import annotations

from typing import NoReturn

IDEAL_KIT = """format = 1
name = "workshop"
label = "Workshop kit"
connector = "SMA plug"
source = "own parts"
[standard.open]
form = "ideal"
kind = "open"
[standard.short]
form = "ideal"
kind = "short"
[standard.load]
form = "ideal"
kind = "load"
"""
"""Whole; what is added stands under its load."""


def no_file(name: str) -> NoReturn:
    """Read no data file: such a kit names none."""
    raise OSError(f"There is no {name}.")
