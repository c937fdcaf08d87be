"""What a report of a fault holds: versions, the profile, what failed, the last bytes. No names.

Everything in it is text that a person can read through before it is given to anybody.
"""

from __future__ import annotations

import contextlib
import getpass
import importlib.metadata
import platform
import re
import sys
from collections.abc import Sequence
from importlib import resources
from pathlib import Path

from acceptance.version import software
from acquire.analyzer.profile import load_profiles
from acquire.files.bounded_read import MOST_TEXT, read_at_most
from acquire.printable_text import plain
from dashboard.errors import SetupError
from dashboard.files import user_folders
from dashboard.files.defect_log import kept_defects
from dashboard.files.last_bytes import last_bytes_path
from replay.errors import RecordingError
from replay.recording.port_recording import LARGEST_RECORDING
from replay.recording.recording_format import parse_recording

MOST_BYTES = 16 * 2**10
"""Of what went over the wire, the last."""
MOST_DEFECTS = 64 * 2**10
"""Characters of the log of defects, the last."""
LEFT_OUT = "(left out)"
PACKAGES = ("numpy", "scipy", "pyserial", "pydantic", "dash", "uvicorn", "websockets", "typst")


def fault_report(
    profile: str | None = None, recording: Path | None = None, leave_out: Sequence[str] = ()
) -> str:
    """Put a report together.

    profile : name of the one in use. recording : what `--record` made; without one the last bytes
    that were kept by themselves. leave_out : names beside those this machine tells of its user.
    Raises SetupError for a profile or recording that is not there, RecordingError.
    """
    parts = {
        "Versions": _versions(),
        "Profile": _profile(profile),
        "What failed": kept_defects()[-MOST_DEFECTS:].strip() or "No fault of the program is kept.",
        "Last bytes": _last_bytes(recording),
    }
    text = "\n\n".join(f"== {heading} ==\n{part}" for heading, part in parts.items())
    lines = (plain(line) for line in without_names(text, leave_out).splitlines())
    return "\n".join(lines) + "\n"


def without_names(text: str, more: Sequence[str] = ()) -> str:
    """A text without what tells who sits at this machine, and without these names."""
    with contextlib.suppress(RuntimeError):  # there may be no home
        text = text.replace(str(Path.home()), "~")
    for name in sorted({*_own_names(), *more}, key=len, reverse=True):
        if name.strip():
            text = re.sub(
                rf"(?<!\w){re.escape(name.strip())}(?!\w)", LEFT_OUT, text, flags=re.IGNORECASE
            )
    return text


def _own_names() -> list[str]:
    """The user's and the machine's names, as the system tells them."""
    names = [platform.node(), platform.node().partition(".")[0]]
    with contextlib.suppress(OSError, KeyError, ImportError):  # nobody may be logged in
        names.append(getpass.getuser())
    with contextlib.suppress(ImportError, KeyError):
        import pwd  # noqa: PLC0415 - POSIX alone has it

        names.append(pwd.getpwnam(names[-1]).pw_gecos.partition(",")[0])
    # too common to be told from the words of a program, and nobody's name
    return [name for name in names if len(name) > 1 and name not in ("localhost", "root")]


def _versions() -> str:
    lines = [software(), f"Python {platform.python_version()} ({sys.implementation.name})"]
    of_system = platform.uname()
    lines.append(f"{of_system.system} {of_system.release}, {of_system.machine}")
    for package in PACKAGES:
        with contextlib.suppress(importlib.metadata.PackageNotFoundError):
            lines.append(f"{package} {importlib.metadata.version(package)}")
    return "\n".join(lines)


def _profile(name: str | None) -> str:
    if name is None:
        return "Not named; add --profile NAME where one was used."
    own = user_folders.profiles()
    if name not in load_profiles(own):
        raise SetupError(f'There is no profile "{name}". Give the name that you sweep with.')
    shipped = resources.files("acquire.analyzer").joinpath("profiles")
    for file in [*(sorted(own.glob("*.toml")) if own.is_dir() else ()), *shipped.iterdir()]:
        if not file.name.endswith(".toml"):
            continue
        if isinstance(file, Path):
            text = read_at_most(file, MOST_TEXT).decode("utf-8", "replace")
        else:
            text = file.read_text(encoding="utf-8")
        if re.search(rf"""^name\s*=\s*["']{re.escape(name)}["']""", text, re.MULTILINE):
            return text.strip()
    return f"{name}; its file was not found."


def _last_bytes(recording: Path | None) -> str:
    path = last_bytes_path() if recording is None else recording
    if not path.is_file():
        if recording is not None:
            raise SetupError(f"There is no file {recording}. Name a recording that --record made.")
        return "None are kept: no analyzer was used by this version."
    try:
        found = parse_recording(read_at_most(path, LARGEST_RECORDING), path.name)
    except RecordingError as error:
        if recording is not None:
            raise
        return f"What was kept cannot be read: {error}"
    lines: list[str] = []
    left = MOST_BYTES
    for entry in reversed(found.entries):
        left -= len(entry.data)
        if left < 0:
            break
        mark = {"out": ">", "in": "<", "discard": "x"}[entry.direction]
        lines.append(f"{entry.t_s:.4f} s {mark} {repr(entry.data)[2:-1]}")
    begun = (
        f"Of {found.kind}, begun {found.begun:%Y-%m-%d %H:%M:%S}; > sent, < came, x thrown away."
    )
    return "\n".join([begun, *reversed(lines)])
