"""Where the program begins: Ctrl-C ends it with a word from its first moment on.

Loading the command line takes a third of a second, in which a person who mistyped stops it again.
"""

from __future__ import annotations

import sys

from dashboard.command_line.exit_status import STOPPED


def main() -> int:
    """Run the command line and return its exit status."""
    try:
        from dashboard.command_line.main import main as bandwright  # noqa: PLC0415 - Ctrl-C is heard meanwhile

        return bandwright()
    except KeyboardInterrupt:
        sys.stderr.write("Stopped.\n")
        return STOPPED
