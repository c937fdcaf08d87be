"""`python -m dashboard`: the same as `bandwright`."""

import sys

from dashboard.start import main

sys.exit(main())
