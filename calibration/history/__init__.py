"""A calibration held against those before it: what changed, and what fits that."""
