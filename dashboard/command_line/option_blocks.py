"""Options that belong together as one value of a command.

A block is a frozen dataclass whose fields are options, each with its `Annotated` text. A command
takes it as one parameter, and typer is shown the fields in its place: so several commands share
the options, what they mean, and what can be asked of them.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterator
from dataclasses import MISSING, fields, is_dataclass
from typing import Any, get_type_hints

FIRST = "first"
"""Marks, within `Annotated`, an option that stands before all others in a command's help."""


def expanded(command: Callable[..., None]) -> Callable[..., None]:
    """Return a command with the fields of its blocks for parameters, where each block stood.

    Calling it makes the blocks, and calls the command with them. Raises TypeError where two
    options have one name.
    """
    shown: list[inspect.Parameter] = []
    blocks: dict[str, Any] = {}
    for parameter in inspect.signature(command, eval_str=True).parameters.values():
        if is_dataclass(parameter.annotation):
            blocks[parameter.name] = parameter.annotation
            shown += _fields_of(parameter.annotation)
        else:
            shown.append(parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY))
    names = [each.name for each in shown]
    if twice := {name for name in names if names.count(name) > 1}:
        raise TypeError(f"{command.__name__} takes {', '.join(sorted(twice))} twice")
    shown.sort(key=lambda each: FIRST not in getattr(each.annotation, "__metadata__", ()))

    @functools.wraps(command)
    def called(**given: Any) -> None:
        made = {
            name: block(**{each.name: given.pop(each.name) for each in _fields_of(block)})
            for name, block in blocks.items()
        }
        command(**given, **made)

    called.__signature__ = inspect.Signature(shown)  # type: ignore[attr-defined]
    called.__annotations__ = {each.name: each.annotation for each in shown}
    return called


def _fields_of(block: Any) -> Iterator[inspect.Parameter]:
    """The options of a block; a field that is not given at its making is none."""
    hints = get_type_hints(block, include_extras=True)
    for each in fields(block):
        if each.init:
            yield inspect.Parameter(
                each.name,
                inspect.Parameter.KEYWORD_ONLY,
                default=inspect.Parameter.empty if each.default is MISSING else each.default,
                annotation=hints[each.name],
            )
