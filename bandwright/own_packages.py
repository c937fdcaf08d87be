"""Is every package that is found the one that comes with this program?

The packages have plain names, so a file of the user's own may bear one of them; Python finds that
first where it lies beside the script, or in the folder that Python was started in.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

PACKAGES = ("acquire", "calibration", "acceptance", "replay")
"""Those that this one takes its names from."""


def require_own_packages() -> None:
    """Raise ImportError, in one sentence, where a file stands in the way; nothing is run."""
    home = Path(__file__).resolve().parents[1]
    for package in PACKAGES:
        spec = importlib.util.find_spec(package)
        found = None if spec is None else spec.origin
        if found is None or Path(found).resolve() == home / package / "__init__.py":
            continue
        raise ImportError(
            f"Python found {found} where bandwright's own package {package!r} was meant. Rename "
            "that file or its folder.",
            name=package,
            path=found,
        )
