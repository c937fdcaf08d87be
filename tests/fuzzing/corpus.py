"""Inputs that once were a crash or no sentence, kept small: by target."""

from __future__ import annotations

CORPUS: list[tuple[str, bytes]] = [
    ("kit", b"x = " + b"[" * 2000),
    ("profile", b"format = " + b"9" * 5000),
    ("recording", b"[" * 100_000 + b"\n"),
]
