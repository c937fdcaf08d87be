"""How the documentation is built as a site: `make docs`.

The pages are the chapters as they stand, README and the contributors' pages, and the API from its
docstrings. Strict: a link or a name of ours that leads nowhere ends the build. Whole: no font,
script or search of it comes from a network.
"""

from __future__ import annotations

import importlib
import inspect
import re
import sys
import tomllib
from pathlib import Path
from typing import Any

TOP = Path(__file__).parents[2]
sys.path.insert(0, str(TOP))
PROJECT = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]

project = PROJECT["name"]
version = release = PROJECT["version"]
author = project_copyright = "the bandwright contributors"
language = "en"

extensions = ["myst_parser", "sphinx.ext.autodoc"]
source_suffix = {".md": "markdown"}
root_doc = "docs/site/contents"
include_patterns = ["*.md", "docs/*.md", "docs/decisions/*.md", "docs/site/*.md"]
nitpicky = True

OURS = ("acquire", "calibration", "acceptance", "replay", "dashboard", "bandwright")

myst_heading_anchors = 4

autodoc_member_order = "bysource"
autodoc_typehints_format = "short"
autodoc_preserve_defaults = True

html_theme = "furo"
html_title = f"bandwright {version}"
html_favicon = "../../dashboard/page/assets/bandwright.svg"
html_extra_path = ["index.html"]
html_copy_source = html_show_sphinx = html_show_copyright = False
html_theme_options = {"sidebar_hide_name": False}


def as_markup(lines: list[str]) -> list[str]:
    """A docstring of the house as reStructuredText.

    Ours are plain text: code between single backticks, and what a function takes as `name : what it
    is` at the start of a line.
    """
    text = inspect.cleandoc("\n".join(lines))
    parts = re.split(r"(`[^`\n]+`)", text)
    marked = "".join(
        f"`{each}`" if each.startswith("`") else re.sub(r"([\\*|_`])", r"\\\1", each)
        for each in parts
    )
    marked = re.sub(r"^([\w\\, *.]{1,60}) : ", r"\n**\1**: ", marked, flags=re.MULTILINE)
    return [*re.sub(r"\n[ \t]+", "\n", marked).splitlines(), ""]


def without_a_page(_app: Any, _env: Any, node: Any, content: Any) -> Any:
    """Show a type without a link where it has no page here: another library's, or a module's own.

    One of ours must be there all the same, or the build ends.
    """
    module, _, name = str(node["reftarget"]).rpartition(".")
    if node["refdomain"] != "py":
        return None
    if module.partition(".")[0] not in OURS:
        return content
    return content if hasattr(importlib.import_module(module), name) else None


def setup(app: Any) -> None:
    """Have every docstring read as ours are written."""

    def process(
        _app: Any, _what: str, _name: str, _of: Any, _options: Any, lines: list[str]
    ) -> None:
        lines[:] = as_markup(lines)

    app.connect("autodoc-process-docstring", process)
    app.connect("missing-reference", without_a_page)
