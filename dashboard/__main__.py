"""`python -m dashboard`: the same as `bandwright`."""

import sys

try:
    from pathlib import Path

    # Python looks in the folder it was started in first, and a user's own calibration.py may lie
    # there.
    here = Path(__file__).resolve().parents[1]
    if not sys.flags.safe_path and Path(sys.path[0]).resolve() != here:
        del sys.path[0]

    from dashboard.start import main
except KeyboardInterrupt:
    sys.stderr.write("Stopped.\n")
    sys.exit(130)

sys.exit(main())
