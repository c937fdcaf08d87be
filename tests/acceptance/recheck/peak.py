"""Rechecks a folder, and says the most memory that this process ever held, MB. POSIX only."""

from __future__ import annotations

import resource
import sys
from pathlib import Path

from acceptance.recheck.recheck_folder import recheck_folder
from acquire.errors import BandwrightError


def peak_mb() -> float:
    """By proc(5) where there is one: getrusage(2) counts what the starting process held, too."""
    status = Path("/proc/self/status")
    if status.exists():
        (line,) = [each for each in status.read_text().splitlines() if each.startswith("VmHWM")]
        return int(line.split()[1]) / 2**10
    unit = 2**20 if sys.platform == "darwin" else 2**10
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


if __name__ == "__main__":
    try:
        said = f"holds: {recheck_folder(Path(sys.argv[1])).holds}"
    except BandwrightError as error:
        said = str(error)
    print(f"{peak_mb():.0f} {said}")
