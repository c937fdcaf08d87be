"""`python -m dashboard`: the same as `bandwright`."""

import sys

from dashboard.cli import main

sys.exit(main())
