"""A page that is looked at for long holds no more than it did."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from tests.counts import LONG
from tests.dashboard.browser.conftest import Site
from tests.dashboard.conftest import until

SWEEPS = 6000 if LONG else 40
LOOKS = 8 if LONG else 3
"""What the browser has not yet given back comes and goes; the least of so many looks counts."""
MAY_GROW, NODES_MAY_GROW = (0.05 if LONG else 0.15), 0.15


@pytest.mark.timeout(3600)
def test_the_page_s_memory_stays_as_it_is(opened: Page, site: Site) -> None:
    browser = opened.context.new_cdp_session(opened)
    browser.send("HeapProfiler.enable")

    def look_for(sweeps: int) -> None:
        for _ in range(sweeps // 20):
            seen = site.bench.snapshot().sequence
            until(site.bench, lambda now, seen=seen: now.sequence >= seen + 20)  # type: ignore[misc]
            opened.evaluate("() => new Promise(requestAnimationFrame)")

    def held() -> tuple[int, int]:
        """Bytes of its scripts, and nodes of its document, once what is not needed is gone."""
        conditions = []
        for _ in range(LOOKS):
            look_for(20)
            browser.send("HeapProfiler.collectGarbage")
            heap = browser.send("Runtime.getHeapUsage")["usedSize"]
            conditions.append((round(heap), browser.send("Memory.getDOMCounters")["nodes"]))
        heaps, nodes = zip(*conditions, strict=True)
        return min(heaps), min(nodes)

    look_for(60)
    heap, nodes = held()
    look_for(SWEEPS)
    heap_after, nodes_after = held()
    print(
        f"{SWEEPS} sweeps: {heap / 2**20:.1f} MB to {heap_after / 2**20:.1f} MB, "
        f"{nodes} nodes to {nodes_after}"
    )
    assert heap_after < (1 + MAY_GROW) * heap
    assert nodes_after < (1 + NODES_MAY_GROW) * nodes
