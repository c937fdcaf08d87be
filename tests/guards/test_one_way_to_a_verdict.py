"""Nothing but `acceptance.verdict.judged_sweep` judges a reading: read off the syntax trees."""

from __future__ import annotations

import ast

import pytest

from tests.guards.house import HOUSE, TOP, syntax_tree

JUDGES = "judge"
MAY_JUDGE = {"acceptance.verdict.judged_sweep"}


def calls(tree: ast.AST) -> list[int]:
    """The lines that name `judge` of a verdict: imported under any name, or called."""
    found = []
    for node in ast.walk(tree):
        match node:
            case ast.ImportFrom(names=names) if any(each.name == JUDGES for each in names):
                found.append(node.lineno)
            case ast.Call(func=ast.Name(id=name) | ast.Attribute(attr=name)) if name == JUDGES:
                found.append(node.lineno)
            case _:
                pass
    return found


def test_nothing_else_judges() -> None:
    assert {name for name, tree in HOUSE.trees.items() if calls(tree)} == MAY_JUDGE


def test_the_benchmarks_go_the_same_way() -> None:
    for path in sorted((TOP / "benchmarks").rglob("*.py")):
        assert not calls(syntax_tree(path)), path


@pytest.mark.parametrize(
    "source",
    [
        "from acceptance.verdict.plan_verdict import judge as j\n",
        "judge(plan, sweep)\n",
        "plan_verdict.judge(plan, sweep)\n",
    ],
)
def test_the_guard_sees_every_way_to_judge(source: str) -> None:
    assert calls(ast.parse(source)) == [1]
