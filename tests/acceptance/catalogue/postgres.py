"""A PostgreSQL server of the tests' own, in a new folder and reached by a socket in it alone."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.counts import PATIENCE_S

WAITING = ("-w", "-t", f"{PATIENCE_S:.0f}")
WHY_NOT = "no PostgreSQL server is installed here (Debian: apt-get install postgresql)"


def programs() -> Path | None:
    """The folder of initdb and pg_ctl; Debian keeps it off the path."""
    found = shutil.which("initdb")
    if found is not None:
        return Path(found).parent
    return max(Path("/usr/lib/postgresql").glob("*/bin"), default=None)


@contextmanager
def server() -> Iterator[str]:
    """Yield the address of a server that runs, and end it. It refuses to run as root, so it is
    another user's then."""
    where = programs()
    assert where is not None
    as_user = {"user": "postgres", "group": "postgres"} if os.geteuid() == 0 else {}
    folder = Path(tempfile.mkdtemp(prefix="bandwright-pg-"))
    if as_user:
        shutil.chown(folder, "postgres", "postgres")

    def run(program: str, *arguments: str) -> None:
        subprocess.run(
            [where / program, *arguments],
            cwd=folder,
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=PATIENCE_S,
            **as_user,  # type: ignore[call-overload]
        )

    data = str(folder / "data")
    try:
        run("initdb", "-D", data, "-U", "bench", "--auth=trust", "-E", "UTF8", "--no-sync")
        settings = f"-k {folder} -c listen_addresses='' -c fsync=off"
        start = ("-l", str(folder / "log"), "-o", settings, "start")
        run("pg_ctl", "-D", data, *WAITING, *start)
        try:
            yield f"postgresql://bench@/postgres?host={folder}"
        finally:
            run("pg_ctl", "-D", data, "-m", "immediate", *WAITING, "stop")
    finally:
        shutil.rmtree(folder)
