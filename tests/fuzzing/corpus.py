"""Inputs that once were a crash or no sentence, kept small: by target."""

from __future__ import annotations

LINE = b'{"recording": 1, "address": "x", "kind": "port", "begun": "2026-01-31T12:00:00+00:00"}\n'
KIT = b"""format = 1
name = "x"
label = "x"
connector = "x"
source = "x"
standard.open = {form = "ideal", kind = "open", "off\\nset" = 1.0}
standard.short = {form = "ideal", kind = "short"}
standard.load = {form = "ideal", kind = "load"}
"""
CORPUS: list[tuple[str, bytes]] = [
    ("kit", b"x = " + b"[" * 2000),
    ("profile", b"format = " + b"9" * 5000),
    ("recording", b"[" * 100_000 + b"\n"),
    ("recording", LINE + b'{"dir": "in", "t": 1' + b"0" * 320 + b', "b64": ""}\n'),
    ("kit", KIT),
    ("record", b'{"version": 2, "utc_offset_minutes": 12' + b"4" * 60 + b"}"),
]
