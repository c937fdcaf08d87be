"""What to sweep and how: the connection, the passes, sweeps that agree."""
