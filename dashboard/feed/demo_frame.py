"""The virtual bench, as the page receives it."""

from __future__ import annotations

from typing import Any

from replay.virtual_bench.pigtails import PIGTAILS
from replay.virtual_bench.simulated_bench import ON_PORT, BenchState

DIMENSIONS = {
    "arm_a": ("Arm A", "the low dip", (0.5, 2.0)),
    "arm_b": ("Arm B", "the high dip", (0.5, 2.0)),
    "feed_gap": ("Feed gap", "how deep both are", (0.1, 0.5)),
    "height": ("Height", "depth and width", (0.5, 2.0)),
}
"""Each dimension that can be bent: its name, what it moves, and the steps on offer, mm."""


def bench_header(bench: BenchState) -> dict[str, Any]:
    return {
        "on_port": bench.on_port,
        "choices": list(ON_PORT),
        "pigtail": bench.pigtail,
        "pigtails": {"none": "nothing"} | {name: each.words for name, each in PIGTAILS.items()},
        "steady": bench.steady,
        "gripped": bench.gripped,
        "enclosed": bench.enclosed,
        "wet": bench.wet,
        "antennas": list(bench.antennas),
        "antenna": bench.antenna_name,
        "dimensions": [
            {
                "name": name,
                "label": DIMENSIONS[name][0],
                "moves": DIMENSIONS[name][1],
                "steps": list(DIMENSIONS[name][2]),
                "mm": mm,
                "low": bench.bounds_mm[name][0],
                "high": bench.bounds_mm[name][1],
            }
            for name, mm in bench.dimensions_mm.items()
        ],
    }
