"""A cable by what it reflects: loss, length, distance to fault, time gating."""
