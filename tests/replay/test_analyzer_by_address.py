"""An analyzer at any address, in a few words."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.errors import PortError, ProfileError
from acquire.sweep import Plane, SweepRequest
from replay.analyzer_by_address import open_analyzer
from replay.clock import AcceleratedClock

PASSES = (SweepRequest(700e6, 900e6, 11),)


@pytest.mark.parametrize("address", ["virtual:", "virtual:scpi"])
def test_a_virtual_analyzer_sweeps_and_says_what_it_is(address: str) -> None:
    with open_analyzer(address, clock=AcceleratedClock()) as analyzer:
        sweep = analyzer.sweep(PASSES)
    assert (sweep.points, sweep.plane) == (11, Plane.RAW)
    assert (sweep.source.kind, sweep.source.measured) == ("virtual", False)


def test_the_end_of_with_lets_go_of_the_port() -> None:
    with open_analyzer("virtual:", clock=AcceleratedClock()) as analyzer:
        pass
    with pytest.raises(PortError):
        analyzer.sweep(PASSES)


def test_a_profile_is_chosen_by_its_name(tmp_path: Path) -> None:
    clock = AcceleratedClock()
    with open_analyzer("virtual:", clock=clock, profiles=str(tmp_path)) as found:
        name = found.profile.name
    with open_analyzer("virtual:", profile=name, clock=clock) as chosen:
        assert chosen.profile.name == name
    with pytest.raises(ProfileError, match="no-such"):
        open_analyzer("virtual:", profile="no-such", clock=clock)


def test_a_port_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(PortError):
        open_analyzer(str(tmp_path / "no-port"), profile=None)
