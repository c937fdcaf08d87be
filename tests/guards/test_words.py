"""Names are the field's words: those of a private language stand in no class, function or value."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.guards.house import syntax_tree

ROOT = Path(__file__).parents[2]
PACKAGES = ("acquire", "calibration", "acceptance", "replay", "dashboard")

PRIVATE_WORDS = frozenset(
    {
        "belief", "beliefs", "covering", "coverings", "foretold", "granted", "holding", "holdings",
        "knob", "knobs", "looking", "makings", "placing", "placings", "remaking", "said", "told",
        "undone", "vouch", "vouched", "vouches", "wish", "wishes", "witness", "witnesses",
    }
)  # fmt: skip
"""What nobody outside could guess; docs/glossary.md has the field's word for each thing."""
SAY_NOT_OF_WHAT = frozenset({"MATTERS", "LIKE", "TIMES", "NEAR", "MOST"})
"""Constants that hold a number and tell nothing of it."""


def names_in(tree: ast.AST) -> Iterator[tuple[str, int]]:
    """Every name that a module gives to something, and its line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node.name, node.lineno
        elif isinstance(node, ast.arg):
            yield node.arg, node.lineno
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id, node.lineno
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
            yield node.attr, node.lineno
        elif isinstance(node, ast.alias) and node.asname:
            yield node.asname, node.lineno
        elif isinstance(node, ast.MatchAs | ast.MatchStar) and node.name:
            yield node.name, node.lineno


def words_of(name: str) -> set[str]:
    """A name's words, however they are joined: by underlines, or by a capital each."""
    return {each.lower() for each in re.findall(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+", name)}


@pytest.mark.parametrize("package", PACKAGES)
def test_no_name_holds_a_word_of_a_private_language(package: str) -> None:
    odd = []
    for path in sorted((ROOT / package).rglob("*.py")):
        place = path.relative_to(ROOT)
        names = [(path.stem, 0), *names_in(syntax_tree(path))]
        odd += [
            f"{place}:{line} {name}"
            for name, line in names
            if words_of(name) & PRIVATE_WORDS or name.strip("_") in SAY_NOT_OF_WHAT
        ]
    assert not odd, "\n".join(odd)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("told_files", {"told", "files"}),
        ("LARGEST_TOLD", {"largest", "told"}),
        ("ToldFiles2", {"told", "files"}),
        ("_SCPIEntry", {"scpi", "entry"}),
    ],
)
def test_a_name_is_taken_apart_at_underlines_and_capitals(name: str, words: set[str]) -> None:
    assert words_of(name) == words


def test_every_kind_of_name_is_seen() -> None:
    source = """
import numpy as an_alias
class AClass:
    a_field: int = 0
def a_function(an_argument, *more, **others):
    local = 1
    an_argument.an_attribute = local
    for each in more: pass
    match others:
        case {"x": caught}: pass
    return lambda inner: inner
"""
    assert {name for name, _ in names_in(ast.parse(source))} == {
        "an_alias", "AClass", "a_field", "a_function", "an_argument", "more", "others", "local",
        "an_attribute", "each", "caught", "inner",
    }  # fmt: skip
