"""The tree of errors at the top of each package's module shows the errors as they are."""

from __future__ import annotations

import importlib
import inspect
import re

import pytest

from acquire.errors import BandwrightError

PACKAGES = ("acquire", "calibration", "acceptance", "replay", "dashboard")
LINE = re.compile(r"^( *)([A-Z]\w*Error)\b", re.MULTILINE)


def drawn(text: str) -> list[tuple[int, str]]:
    """The lines of a tree: how far each is set in, and which error it names."""
    return [(len(spaces), name) for spaces, name in LINE.findall(text)]


@pytest.mark.parametrize("package", PACKAGES)
def test_every_error_has_its_place_in_the_tree(package: str) -> None:
    module = importlib.import_module(f"{package}.errors")
    own = {
        name: each
        for name, each in vars(module).items()
        if inspect.isclass(each) and each.__module__ == module.__name__
    }
    above: list[tuple[int, str]] = []
    seen = []
    for depth, name in drawn(module.__doc__ or ""):
        above = [each for each in above if each[0] < depth]
        error = getattr(module, name)
        assert issubclass(error, BandwrightError)
        if above:
            assert above[-1][1] in [each.__name__ for each in error.__bases__]
        above.append((depth, name))
        seen.append(name)
    assert set(own) <= set(seen)
    assert len(seen) == len(set(seen))


def test_the_guard_reads_a_tree() -> None:
    text = "The errors.\n\nOneError   root\n    TwoError    a kind of it\n\nEach message"
    assert drawn(text) == [(0, "OneError"), (4, "TwoError")]
