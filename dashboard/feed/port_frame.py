"""The analyzer's port as the page receives it."""

from __future__ import annotations

from typing import Any

from dashboard.bench.snapshot import Snapshot


def port_header(now: Snapshot) -> dict[str, Any]:
    """How it stands with it, in words; and whether another one may be chosen."""
    port = now.port
    where = port.address.partition("?")[0]  # a virtual analyzer's options are no news
    words = {
        "unchosen": "No port chosen",
        "connecting": f"Connecting to {where}",
        "sweeping": "Sweeping",
        "refused": f"Not sweeping {where}",
        "lost": f"No analyzer at {where}",
        "stopped": f"Stopped {where}",
    }[port.phase]
    if where.startswith("virtual:"):
        words = words.replace(where, "the virtual bench")
    detail = port.message
    if port.analyzer:
        detail = f"{port.analyzer}, profile {port.profile}. {detail}".strip()
    if port.unproven:
        detail += " This profile has not been proven on hardware."
    return {
        "phase": port.phase,
        "words": words,
        "detail": detail,
        "address": port.address,
        "choosable": port.choosable,
        "swept": now.sweep is not None,
    }
