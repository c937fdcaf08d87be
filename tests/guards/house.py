"""The house as its imports draw it: rooms, arrows between them, circles. Print it by

    python tests/guards/house.py

A room is what lies side by side in a package's folder: a module, or a sub-package as a whole. An
arrow leads from a room to one that it imports anything of, wherever the import stands: at the top
of a file, in a function, or under TYPE_CHECKING.
"""

from __future__ import annotations

import ast
import re
import sys
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

TOP = Path(__file__).parents[2]
PACKAGES = ("bandwright", "dashboard", "replay", "acceptance", "calibration", "acquire")
"""From the top of the house to its ground: each imports only those after it."""

Graph = Mapping[str, set[str]]


@dataclass(frozen=True)
class House:
    """The packages below one folder, read once."""

    top: Path = TOP

    @cached_property
    def packages(self) -> tuple[str, ...]:
        """The packages that are there, from the top down."""
        return tuple(each for each in PACKAGES if (self.top / each / "__init__.py").exists())

    @cached_property
    def files(self) -> dict[str, Path]:
        """Every module by its dotted name; a package's `__init__` bears the package's name."""
        return {
            dotted(path.relative_to(self.top)): path
            for package in self.packages
            for path in sorted((self.top / package).rglob("*.py"))
        }

    @cached_property
    def trees(self) -> dict[str, ast.Module]:
        """The syntax tree of every module."""
        return {name: syntax_tree(path) for name, path in self.files.items()}

    @cached_property
    def imports(self) -> dict[str, set[str]]:
        """What every module imports of the house, by dotted names; never itself."""
        return {
            name: {each for each in self._imported(name) if each != name} for name in self.files
        }

    @cached_property
    def lines(self) -> dict[str, int]:
        """How many lines every module has."""
        return {
            name: len(path.read_text(encoding="utf-8").splitlines())
            for name, path in self.files.items()
        }

    def rooms(self, package: str) -> list[str]:
        """The rooms of a package, or of a sub-package: dotted names, in order."""
        depth = package.count(".") + 2
        return sorted(
            {
                ".".join(name.split(".")[:depth])
                for name in self.files
                if name.startswith(f"{package}.")
            }
        )

    def folders(self) -> list[str]:
        """Every folder that holds modules, by its dotted name."""
        return sorted(name for name, path in self.files.items() if path.name == "__init__.py")

    def modules(self, room: str) -> list[str]:
        """The modules of a room: itself, or all that lie in it but for an `__init__`."""
        return [
            name
            for name, path in self.files.items()
            if (name == room or name.startswith(f"{room}.")) and path.name != "__init__.py"
        ]

    def arrows(self, package: str) -> Counter[tuple[str, str]]:
        """How many imports lead from one room of a package to another."""
        depth = package.count(".") + 2
        found: Counter[tuple[str, str]] = Counter()
        for name, targets in self.imports.items():
            for target in targets:
                rooms = (_room(name, depth), _room(target, depth))
                if rooms[0] != rooms[1] and all(each.startswith(f"{package}.") for each in rooms):
                    found[rooms] += 1
        return found

    def between(self) -> Counter[tuple[str, str]]:
        """How many imports lead from one package to another."""
        return Counter(
            (name.split(".")[0], target.split(".")[0])
            for name, targets in self.imports.items()
            for target in targets
            if name.split(".")[0] != target.split(".")[0]
        )

    def defining(self, package: str, symbol: str) -> str:
        """The one module of a package that defines a class or function of this name.

        Raises LookupError where none does, or more than one.
        """
        found = [
            name
            for name, tree in self.trees.items()
            if name.split(".")[0] == package
            and any(
                isinstance(node, ast.ClassDef | ast.FunctionDef) and node.name == symbol
                for node in tree.body
            )
        ]
        if len(found) != 1:
            raise LookupError(f"{symbol} is defined in {len(found)} modules of {package}: {found}")
        return found[0]

    def _imported(self, name: str) -> Iterator[str]:
        own = name if self.files[name].name == "__init__.py" else name.rpartition(".")[0]
        for node in ast.walk(self.trees[name]):
            match node:
                case ast.Import(names=names):
                    yield from (alias.name for alias in names if alias.name in self.files)
                case ast.ImportFrom(module=module, names=names, level=level):
                    parts = own.split(".")[: len(own.split(".")) - level + 1] if level else []
                    source = ".".join([*parts, *([module] if module else [])])
                    for alias in names:
                        if f"{source}.{alias.name}" in self.files:
                            yield f"{source}.{alias.name}"
                        elif source in self.files:
                            yield source
                case _:
                    pass


HOUSE = House()
"""The house as it stands, for every guard: each file is parsed once."""


@cache
def syntax_tree(path: Path) -> ast.Module:
    """The syntax tree of a file, which nobody changes."""
    return ast.parse(path.read_text(encoding="utf-8"))


def dotted(path: Path) -> str:
    """The dotted name of a module's path below the top."""
    return re.sub(r"\.__init__$", "", ".".join(path.with_suffix("").parts))


def circles(graph: Graph) -> list[list[str]]:
    """Those that import one another, directly or by others: each circle once, in order (Tarjan)."""
    found: list[list[str]] = []
    index: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []

    def visit(name: str) -> None:
        index[name] = low[name] = len(index)
        stack.append(name)
        for target in sorted(graph.get(name, ())):
            if target not in index:
                visit(target)
                low[name] = min(low[name], low[target])
            elif target in stack:
                low[name] = min(low[name], index[target])
        if low[name] == index[name]:
            circle = stack[stack.index(name) :]
            del stack[len(stack) - len(circle) :]
            if len(circle) > 1:
                found.append(sorted(circle))

    for name in sorted(graph):
        if name not in index:
            visit(name)
    return found


def as_graph(arrows: Mapping[tuple[str, str], int]) -> dict[str, set[str]]:
    """Arrows as a graph: to each room those that it imports."""
    graph: dict[str, set[str]] = {}
    for source, target in sorted(arrows):
        graph.setdefault(source, set()).add(target)
    return graph


def _room(name: str, depth: int) -> str:
    return ".".join(name.split(".")[:depth])


def main() -> int:
    """Print the counts of every package, and its arrows."""
    house = House()
    for package in house.packages:
        arrows = house.arrows(package)
        round_ = circles(as_graph(arrows))
        print(
            f"{package}: {len(house.rooms(package))} rooms side by side, {len(arrows)} arrows "
            f"between them, {len(round_)} circles; {len(house.modules(package))} modules"
        )
        for room in house.rooms(package):
            targets = [
                f"{b.split('.')[-1]} {n}" for (a, b), n in sorted(arrows.items()) if a == room
            ]
            print(f"  {room.split('.')[-1]} -> {', '.join(targets) or 'nothing of this package'}")
        for circle in round_:
            print(f"  circle: {', '.join(circle)}")
    for (source, target), count in sorted(house.between().items()):
        print(f"{source} -> {target}: {count}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
