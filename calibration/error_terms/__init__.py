"""The three error terms of one port: solved, interpolated, held against what is plausible."""
