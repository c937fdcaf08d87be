"""`python -m dashboard`: the same as `bandwright`."""

import sys
from pathlib import Path

# Python looks in the folder it was started in first, and a user's own calibration.py may lie there.
if not sys.flags.safe_path and Path(sys.path[0]).resolve() != Path(__file__).resolve().parents[1]:
    del sys.path[0]

from dashboard.start import main

sys.exit(main())
