"""The whole program where POSIX's own modules are not there, as on Windows. Run by a test:

    python tests/guards/without_posix.py FOLDER

They are hidden from our packages only: the standard library's and pyserial's own choices between
systems are theirs, and are made by the system's name.
"""

from __future__ import annotations

import builtins
import importlib
import os
import pkgutil
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

HIDDEN = ("termios", "fcntl", "pty", "tty", "pwd", "grp", "resource", "syslog", "posix", "crypt")
OURS = ("acquire", "calibration", "acceptance", "replay", "dashboard")

imported_as_ever = builtins.__import__


def import_(
    name: str,
    globals_: Mapping[str, Any] | None = None,
    locals_: Mapping[str, Any] | None = None,
    fromlist: Sequence[str] | None = (),
    level: int = 0,
) -> Any:
    importer = str((globals_ or {}).get("__name__", "")).partition(".")[0]
    if importer in OURS and name in HIDDEN:
        raise ModuleNotFoundError(f"No module named {name!r}", name=name)
    return imported_as_ever(name, globals_, locals_, fromlist or (), level)


def everything_imported() -> int:
    count = 0
    for package in OURS:
        for module in pkgutil.walk_packages(
            importlib.import_module(package).__path__, package + "."
        ):
            if module.name != "dashboard.__main__":
                importlib.import_module(module.name)
                count += 1
    return count


def swept_through_a_socket() -> int:
    """The virtual bench at a socket, as it is reached where there is no pseudo-terminal."""
    from acquire.analyzer.connected_analyzer import open_analyzer
    from acquire.analyzer.profile import load_profiles
    from acquire.sweep import SweepRequest
    from replay.clock import FastClock
    from replay.virtual_analyzer.hosting import on_socket
    from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
    from replay.virtual_bench.simulated_bench import VirtualBench

    clock = FastClock(20.0)
    with on_socket(
        VirtualAnalyzer(VirtualBench(clock, on_port="antenna"), "scpi"), clock
    ) as address:
        unit = open_analyzer(address, profiles=load_profiles())
        try:
            return unit.sweep([SweepRequest(700e6, 900e6, 51)]).points
        finally:
            unit.close()


def main(folder: Path) -> None:
    builtins.__import__ = import_  # type: ignore[assignment]
    print(f"{everything_imported()} modules")
    print(f"{swept_through_a_socket()} points")

    from dashboard.command_line.main import main as bandwright

    os.chdir(folder)
    print(f"tour {bandwright(['tour'])}")
    print(f"bands {bandwright(['bands', '20'])}")
    print(f"ports {bandwright(['ports'])}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
