"""Find the browser the page is tested in, or install Debian's; else say so in one sentence.

Run as a program it exits 0 once a browser is there. Tests import `find` from here.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

SHELL = "chromium-headless-shell"
"""The same browser without a window: it starts sooner, and leaves the tests more of the machine."""
NAMES = (SHELL, "chromium", "chromium-browser", "google-chrome", "chrome")
PACKAGES = (SHELL, "chromium")
"""Debian's; where it has no shell by itself, the whole browser does."""


def find() -> str | None:
    """Path of a Chromium: BANDWRIGHT_CHROMIUM where set, else the first on the path."""
    named = os.environ.get("BANDWRIGHT_CHROMIUM")
    if named:
        return shutil.which(named)
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def install() -> str:
    """Install Debian's Chromium where that is allowed; return why not, or an empty string."""
    if shutil.which("apt-get") is None:
        return "this system has no apt-get"
    root = getattr(os, "geteuid", lambda: -1)() == 0
    prefix = [] if root else ["sudo", "-n"]
    if not root and (
        shutil.which("sudo") is None or subprocess.run([*prefix, "true"], check=False).returncode
    ):
        return "that needs the administrator's rights"

    def apt_get(*command: str) -> bool:
        done = subprocess.run(
            [*prefix, "env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq", *command],
            stdout=subprocess.DEVNULL,
            check=False,
        )
        return done.returncode == 0

    if not apt_get("update"):
        return "apt-get update failed"
    if not any(apt_get("install", "-y", package) for package in PACKAGES):
        return "apt-get install failed"
    return "" if find() else "the package brought no chromium onto the path"


def main() -> int:
    """Make sure of a browser; 1 and one sentence where none can be had."""
    if find():
        return 0
    print("Installing Debian's Chromium for the browser tests ...", flush=True)
    why = install()
    if not why:
        return 0
    print(
        f"The browser tests need Chromium, and {why}: install it and put it on the path, name it "
        "in BANDWRIGHT_CHROMIUM, or leave these tests out with `make test BROWSER=no`.",
        file=sys.stderr,
    )
    return 1


if __name__ == "__main__":
    sys.exit(main())
