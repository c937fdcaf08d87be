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

ANTENNA = "weir-3"
"""The antenna that the tour tunes."""
OPERATOR = "river-watch"
RECIPE = """\
# What the river-watch group's bent strip has to bend. Invented, as the antenna is.
name = "bent strip"
feed_at_connector = true     # it is screwed on where the calibration was done

[[dimension]]
name = "arm_a"
label = "arm A"
length_mm = 85.0
moves = 1
step_mm = 0.5
cut = true                   # what is cut off the strip does not come back

[[dimension]]
name = "arm_b"
label = "arm B"
length_mm = 36.0
moves = 2
step_mm = 0.5
cut = true

[[dimension]]
name = "feed_gap"
label = "the feed gap"
step_mm = 0.2
more = "Widen"
less = "Narrow"

[[dimension]]
name = "height"
label = "the height"
step_mm = 0.5
more = "Raise"
less = "Lower"
"""
RECIPE_NAME = "bent-strip.toml"
