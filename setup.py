"""Copies the chapters of docs/ beside `dashboard.help` in a wheel; pyproject.toml has the rest.

A checkout reads them where they are (dashboard/help/chapters.py), so there is one copy of each.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py

DOCS = Path(__file__).parent / "docs"


class BuildWithChapters(build_py):
    """The modules, and the chapters with their pictures."""

    def run(self) -> None:
        """Copy both; an editable install needs no copy."""
        super().run()
        if self.editable_mode:
            return
        chapters = Path(self.build_lib) / "dashboard" / "help" / "chapters"
        (chapters / "pictures").mkdir(parents=True, exist_ok=True)
        for path in DOCS.glob("*.md"):
            shutil.copy(path, chapters)
        for path in DOCS.glob("pictures/*.png"):
            shutil.copy(path, chapters / "pictures")


setup(cmdclass={"build_py": BuildWithChapters})
