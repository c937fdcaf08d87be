"""The whole job without hardware: recorded bytes, a simulated unit, a virtual bench."""
