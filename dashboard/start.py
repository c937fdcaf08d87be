"""Where the program begins: Ctrl-C ends it with a word from its first moment to its last.

Loading the command line takes a third of a second, in which a person who mistyped stops it again.
"""

import sys

try:
    import warnings

    from dashboard.command_line import ctrl_c
    from dashboard.command_line.exit_status import STOPPED
except KeyboardInterrupt:
    sys.stderr.write("Stopped.\n")
    sys.exit(130)


def main() -> int:
    """Run the command line and return its exit status."""
    try:
        ctrl_c.end_at_once()
        if not sys.warnoptions:
            # numpy's words to a programmer; a person is told by remarks, doubts and refusals
            warnings.simplefilter("ignore", RuntimeWarning)
        from dashboard.command_line.main import main as bandwright  # noqa: PLC0415 - Ctrl-C is heard meanwhile

        return bandwright()
    except KeyboardInterrupt:
        sys.stderr.write("Stopped.\n")
        return STOPPED
    finally:
        ctrl_c.end_at_once()
