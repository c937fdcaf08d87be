"""Sweeps from a serial port: how analyzers talk, how bytes move, what a sweep is."""
