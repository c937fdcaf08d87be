"""Modules and paths of the house that a text names between backticks, and which are not there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from tests.guards.house import PACKAGES, TOP, House

CODE = re.compile(r"`([^`\n]+)`")
DOTTED = re.compile(rf"(?:{'|'.join(PACKAGES)})(?:\.\w+)+")
FOLDERS = (*PACKAGES, "tests", "benchmarks", "docs", ".ci")
PATH = re.compile(rf"(?:{'|'.join(map(re.escape, FOLDERS))})/[\w./*-]*")


def named(text: str) -> list[str]:
    """What between backticks is a dotted name or a path of the house, and nothing else beside."""
    return [each for each in CODE.findall(text) if DOTTED.fullmatch(each) or PATH.fullmatch(each)]


def missing(text: str, house: House, top: Path = TOP) -> list[str]:
    """Those of them that lead nowhere."""
    return [each for each in named(text) if not _there(each, house, top)]


def _there(name: str, house: House, top: Path) -> bool:
    if "/" in name:
        return any(top.glob(name.rstrip("/")))
    parts = name.split(".")
    for length in range(len(parts), 0, -1):
        module = ".".join(parts[:length])
        if module in house.files:
            return _within(house.trees[module], parts[length:])
    return False


def _within(tree: ast.Module | ast.ClassDef, names: list[str]) -> bool:
    """True where a module or class defines the first of the names, and that the next."""
    if not names:
        return True
    for node in tree.body:
        match node:
            case ast.ClassDef(name=name) if name == names[0]:
                return _within(node, names[1:])
            case ast.FunctionDef(name=name) if name == names[0]:
                return len(names) == 1
            case ast.Assign(targets=[ast.Name(id=name)]) if name == names[0]:
                return len(names) == 1
            case ast.AnnAssign(target=ast.Name(id=name)) if name == names[0]:
                return len(names) == 1
            case _:
                pass
    return False
