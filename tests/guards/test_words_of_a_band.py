"""Nothing but `acceptance.verdict.wording` puts a band's figures into words: read off the trees."""

from __future__ import annotations

import ast

from tests.guards.house import HOUSE

FIGURES = {
    "average_better_than_db",
    "average_return_loss_db",
    "better_than_db",
    "margin_db",
    "spare_db",
    "worst_db",
    "worst_return_loss_db",
}
"""Names of a band's figures, as attributes or by themselves."""
MAY_WORD = {"acceptance.verdict.wording"}


def worded(tree: ast.AST) -> list[int]:
    """The lines where a figure is written with so many digits."""
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.FormattedValue)
        and node.format_spec is not None
        and FIGURES & {_name(each) for each in ast.walk(node.value)}
    ]


def _name(node: ast.AST) -> str:
    match node:
        case ast.Attribute(attr=name) | ast.Name(id=name):
            return name
        case _:
            return ""


def test_no_figure_of_a_band_is_worded_elsewhere() -> None:
    found = {name: lines for name, tree in HOUSE.trees.items() if (lines := worded(tree))}
    assert found.keys() == MAY_WORD, found


def test_the_guard_sees_a_figure_that_is_worded() -> None:
    assert worded(ast.parse('f"{abs(band.spare_db):.1f} dB"')) == [1]
    assert worded(ast.parse('f"{margin_db:+.1f}"')) == [1]
    assert not worded(ast.parse('f"{margin(band)} and {band.floor_db:.1f}"'))
