"""Write THIRD-PARTY-LICENCES.txt: name, version and licence of every package the program brings.

    make licences

Packages and versions are those of requirements.lock, the texts those that the installed packages
carry. One that is for another system or Python than this is listed with what its index card says,
if another version of it is here, else by its name alone.
"""

from __future__ import annotations

import re
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

TOP = Path(__file__).parents[1]
LICENCES = TOP / "THIRD-PARTY-LICENCES.txt"
FONT = TOP / "dashboard" / "page" / "assets" / "fonts" / "OFL.txt"
LICENCE_FILE = re.compile(r"(licen[cs]e|copying|notice|authors)[^/]*$", re.IGNORECASE)
RULE = "=" * 80
HEAD = """Packages that are installed with bandwright, each by its authors under its licence.
Made by `make licences` from requirements.lock; bandwright's own licence is in LICENSE.
"""


def pinned(lock: str) -> list[tuple[str, str, str]]:
    """Name, version and marker of every package of a lock, in its order."""
    return [
        (name, version, marker.strip())
        for name, version, marker in re.findall(
            r"^([a-z0-9._-]+)(?:\[[^\]]*\])?==([^ ;\\]+) ?;?([^\\\n]*)", lock, re.MULTILINE
        )
    ]


def summary(package: Distribution) -> str:
    """What its index card says of its licence."""
    card: Any = package.metadata
    stated = card.get("License-Expression") or card.get("License") or ""
    if "\n" in stated or len(stated) > 100:
        stated = ""
    classified = [
        each.rpartition(" :: ")[2]
        for each in card.get_all("Classifier") or []
        if each.startswith("License ::")
    ]
    return stated or ", ".join(classified) or "see its text"


def texts(package: Distribution) -> list[str]:
    """The texts of its licence and notices that it carries."""
    found = []
    for file in package.files or []:
        inner = "dist-info" in str(file) or len(file.parts) <= 2
        path = Path(str(package.locate_file(file)))
        if inner and LICENCE_FILE.search(file.name) and path.suffix != ".py" and path.is_file():
            found.append(path.read_text(encoding="utf-8", errors="replace").strip())
    return sorted(set(found))


def whole() -> str:
    """The whole file."""
    parts = [HEAD]
    for name, version, marker in pinned((TOP / "requirements.lock").read_text(encoding="utf-8")):
        title = f"{name} {version}" + (f" ({marker})" if marker else "")
        try:
            package = distribution(name)
        except PackageNotFoundError:
            parts.append(f"{title}\nNot installed where this file was made: see the package.\n")
            continue
        found = texts(package) if package.version == version else []
        lines = [line.rstrip() for text in found for line in ("", *text.splitlines())]
        parts.append("\n".join([title, f"Licence: {summary(package)}", *lines]) + "\n")
    parts.append(f"The typeface of the page\nLicence: OFL-1.1\n\n{FONT.read_text('utf-8')}")
    return f"\n{RULE}\n\n".join(parts)


if __name__ == "__main__":
    LICENCES.write_text(whole(), encoding="utf-8")
