"""The demo's story: a river-watch group and the modems of its flood gauges. All of it invented."""

from __future__ import annotations

PLAN_NAME = "river-watch.toml"
PLAN = """\
# The plan of the invented river-watch group for the cellular modem of its flood gauges.
name = "gauge modem, Europe"

[[band]]
lte = 20
return_loss_db = 10

[[band]]
nr = 3
vswr = 2.0
uplink = { vswr = 1.8 }      # tighter on one link

[[band]]
name = "gauge backhaul"
low_mhz = 868.0
high_mhz = 870.0
return_loss_db = 12
"""

UNIT = "weir-3"
"""The antenna that the tour tunes."""
OPERATOR = "river-watch"
