"""Boxes in layers, so that every arrow leads down and few cross. No drawing here: places only.

The usual four steps for layered graphs (Sugiyama, Tagawa, Toda 1981, "Methods for visual
understanding of hierarchical system structures" [memory]): break circles, put each box one layer
above the lowest it needs, order each layer by its neighbours' middle, then place. All is
deterministic: the same graph gives the same picture.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

SWEEPS = 24
"""How often the layers are ordered, down and up in turn; the order of fewest crossings is kept."""
THREAD = 10.0
"""Width that an arrow gets where it passes a layer, px."""

Edge = tuple[str, str]


@dataclass
class Layout:
    """Where each box stands, and the places every arrow passes."""

    layers: list[list[str]]
    """From the top down; boxes, and `a>b#2` where the arrow from a to b passes the layer."""
    x: dict[str, float] = field(default_factory=dict)
    """The middle of every box or passage, px."""
    chains: dict[Edge, list[str]] = field(default_factory=dict)
    """Each arrow as what it runs through, both ends included."""


def without_circles(nodes: Sequence[str], edges: Sequence[Edge]) -> list[Edge]:
    """The edges but for those that would close a circle, found depth first in order."""
    graph: dict[str, list[str]] = {node: [] for node in nodes}
    for source, target in sorted(edges):
        graph[source].append(target)
    state: dict[str, int] = {}
    kept: list[Edge] = []

    def visit(node: str) -> None:
        state[node] = 1
        for target in graph[node]:
            if state.get(target) == 1:
                continue
            kept.append((node, target))
            if target not in state:
                visit(target)
        state[node] = 2

    for node in sorted(nodes):
        if node not in state:
            visit(node)
    return kept


def essential(nodes: Sequence[str], edges: Sequence[Edge]) -> list[Edge]:
    """The edges that no longer way says already: the transitive reduction; needs no circles."""
    graph: dict[str, set[str]] = {node: set() for node in nodes}
    for source, target in edges:
        graph[source].add(target)
    below: dict[str, set[str]] = {}

    def reach(node: str) -> set[str]:
        if node not in below:
            below[node] = set().union(*({each} | reach(each) for each in graph[node]), set())
        return below[node]

    return [
        (source, target)
        for source, target in edges
        if not any(target in reach(other) for other in graph[source] - {target})
    ]


def laid_out(
    nodes: Sequence[str],
    edges: Sequence[Edge],
    widths: Mapping[str, float],
    width: float,
    gap: float,
) -> Layout:
    """Place boxes of the given widths in layers within a width, px; edges must close no circle."""
    layout = _layered(nodes, edges)
    _order(layout)
    _place(layout, widths, width, gap)
    return layout


def _layered(nodes: Sequence[str], edges: Sequence[Edge]) -> Layout:
    targets: dict[str, list[str]] = {node: [] for node in nodes}
    for source, target in edges:
        targets[source].append(target)
    height: dict[str, int] = {}

    def rise(node: str) -> int:
        if node not in height:
            height[node] = max((rise(each) + 1 for each in targets[node]), default=0)
        return height[node]

    top = max(rise(node) for node in nodes)
    layout = Layout([[] for _ in range(top + 1)])
    for node in sorted(nodes):
        layout.layers[top - height[node]].append(node)
    for source, target in sorted(edges):
        passed = [f"{source}>{target}#{at}" for at in range(height[source] - 1, height[target], -1)]
        for name, at in zip(passed, range(height[source] - 1, height[target], -1), strict=True):
            layout.layers[top - at].append(name)
        layout.chains[source, target] = [source, *passed, target]
    return layout


def _links(layout: Layout) -> list[Edge]:
    return [link for chain in layout.chains.values() for link in pairwise(chain)]


def _crossings(layout: Layout) -> int:
    place = {name: at for layer in layout.layers for at, name in enumerate(layer)}
    row = {name: at for at, layer in enumerate(layout.layers) for name in layer}
    links = sorted((row[a], place[a], place[b]) for a, b in _links(layout))
    return sum(
        1
        for i, (level, a, b) in enumerate(links)
        for other, c, d in links[i + 1 :]
        if level == other and (a - c) * (b - d) < 0
    )


def _order(layout: Layout) -> None:
    up: dict[str, list[str]] = {}
    down: dict[str, list[str]] = {}
    for a, b in _links(layout):
        down.setdefault(a, []).append(b)
        up.setdefault(b, []).append(a)
    best = _crossings(layout), [list(layer) for layer in layout.layers]
    for sweep in range(SWEEPS):
        rows = range(1, len(layout.layers))
        for at in rows if sweep % 2 == 0 else reversed(range(len(layout.layers) - 1)):
            near = up if sweep % 2 == 0 else down
            beside = layout.layers[at - 1 if sweep % 2 == 0 else at + 1]
            place = {name: index for index, name in enumerate(beside)}
            now = {name: index for index, name in enumerate(layout.layers[at])}

            share = len(beside) / max(1, len(now))
            places = {
                name: [place[each] for each in near.get(name, ())] or [now[name] * share]
                for name in now
            }
            middle = {name: (sum(p) / len(p), now[name]) for name, p in places.items()}
            layout.layers[at].sort(key=middle.__getitem__)
        count = _crossings(layout)
        if count < best[0]:
            best = count, [list(layer) for layer in layout.layers]
    layout.layers = best[1]


def _place(layout: Layout, widths: Mapping[str, float], width: float, gap: float) -> None:
    near: dict[str, list[str]] = {}
    for a, b in _links(layout):
        near.setdefault(a, []).append(b)
        near.setdefault(b, []).append(a)
    half = {name: widths.get(name, THREAD) / 2 for layer in layout.layers for name in layer}
    for layer in layout.layers:
        for at, name in enumerate(layer):
            layout.x[name] = width * (at + 0.5) / len(layer)
    for sweep in range(40):
        for layer in layout.layers if sweep % 2 == 0 else reversed(layout.layers):
            wanted = [
                sum(layout.x[each] for each in near[name]) / len(near[name])
                if near.get(name)
                else layout.x[name]
                for name in layer
            ]
            steps = [0.0]
            for left, right in pairwise(layer):
                steps.append(steps[-1] + half[left] + half[right] + gap)
            low, high = half[layer[0]], width - half[layer[-1]] - steps[-1]
            shifts = _rising([want - step for want, step in zip(wanted, steps, strict=True)])
            for name, shift, step in zip(layer, shifts, steps, strict=True):
                layout.x[name] = min(max(shift, low), max(high, low)) + step
    left = min((layout.x[name] - half[name] for name in half), default=0.0)
    right = max((layout.x[name] + half[name] for name in half), default=width)
    for name in half:
        layout.x[name] += (width - left - right) / 2


def _rising(values: Sequence[float]) -> list[float]:
    """The nearest values that never fall, by least squares (pool adjacent violators)."""
    pools: list[tuple[float, int]] = []
    for value in values:
        total, count = value, 1
        while pools and pools[-1][0] / pools[-1][1] > total / count:
            before, many = pools.pop()
            total, count = total + before, count + many
        pools.append((total, count))
    return [total / count for total, count in pools for _ in range(count)]
