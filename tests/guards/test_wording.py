"""Few tests hold a whole sentence, so that mending English breaks few tests."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.guards.house import syntax_tree

TESTS = Path(__file__).parents[1]
LONG_WORDS, MOST = 7, 12
EXPECTATIONS = {"to_have_text", "to_contain_text"}


def compared(test: ast.AST) -> Iterator[ast.AST]:
    """What a test compares with: in assertions, patterns, tables and what a browser shall show."""
    for node in ast.walk(test):
        if isinstance(node, ast.Assert):
            yield node.test
        elif isinstance(node, ast.Call):
            yield from (each.value for each in node.keywords if each.arg == "match")
            if ast.unparse(node.func) == "pytest.mark.parametrize":
                yield from node.args
            if isinstance(node.func, ast.Attribute) and node.func.attr in EXPECTATIONS:
                yield from node.args


def holds_a_sentence(test: ast.AST) -> bool:
    """True where a sentence of seven words and more stands there, full stop and all."""
    texts = (
        each.value.strip().rstrip('"$)\\')
        for part in compared(test)
        for each in ast.walk(part)
        if isinstance(each, ast.Constant) and isinstance(each.value, str)
    )
    return any(text.endswith(".") and len(text.split()) >= LONG_WORDS for text in texts)


def test_whole_sentences_stand_in_few_tests() -> None:
    """The others ask for figures and for the words that carry meaning: tests.wording."""
    holding = [
        f"{path.relative_to(TESTS)}::{node.name}"
        for path in sorted(TESTS.rglob("test_*.py"))
        for node in ast.walk(syntax_tree(path))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        if holds_a_sentence(node)
    ]
    assert len(holding) <= MOST, "\n".join(holding)


def test_the_guard_sees_a_sentence_and_passes_figures_by() -> None:
    seen = 'def test_x(): assert said == "The dip is at 838 MHz, too high."'
    passed = 'def test_x(): assert not missing_words(said, "838 MHz", "too high")'
    pattern = 'def test_x(): raises(E, match=r"There is no file of that name\\.")'
    assert [holds_a_sentence(ast.parse(each)) for each in (seen, passed, pattern)] == [
        True,
        False,
        True,
    ]
