"""Fuzz one target, guided by what it reaches (needs `pip install atheris`, which is not on every
system), or all of them in turn:

    python -m tests.fuzzing SECONDS [NAME ...]

What fails is printed, and kept in tests/fuzzing/found. So is every input that reached something
new: the next run begins with them, so that several short runs do the work of a long one.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

FOUND = Path(__file__).with_name("found")


def one(name: str, seconds: int) -> None:
    """In this process; does not return."""
    import atheris

    with atheris.instrument_imports(include=["acquire", "calibration", "acceptance", "replay"]):
        from tests.fuzzing.targets import TARGETS

    target = TARGETS[name]
    kept = FOUND / name.replace(" ", "-")
    kept.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(target.seeds()):
        (kept / f"seed-{number}").write_bytes(seed)
    limits = [
        f"-max_total_time={seconds}",
        "-timeout=20",
        "-rss_limit_mb=1500",
        "-max_len=20000",
        "-print_final_stats=1",
        f"-artifact_prefix={kept}-",
    ]

    def hold(data: bytes) -> None:
        target.hold(bytes(data))

    atheris.Setup([sys.argv[0], *limits, str(kept)], hold)
    atheris.Fuzz()


def main() -> None:
    """Each target in a process of its own, since one that fails ends it."""
    if sys.argv[1] == "--one":
        one(sys.argv[2], int(sys.argv[3]))
    from tests.fuzzing.targets import TARGETS

    seconds, names = sys.argv[1], sys.argv[2:] or list(TARGETS)
    for name in names:
        command = [sys.executable, "-m", "tests.fuzzing", "--one", name, seconds]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        lines = done.stderr.splitlines()
        stats = {
            words[0].split("::")[1].rstrip(":"): words[1]
            for line in lines
            if len(words := line.split()) == 2 and words[0].startswith("stat::")
        }
        runs, peak = stats.get("number_of_executed_units"), stats.get("peak_rss_mb")
        print(f"{name}: exit {done.returncode}, {runs} inputs, {peak} MB", flush=True)
        if done.returncode:
            print("\n".join(lines[-40:]), flush=True)


if __name__ == "__main__":
    main()
