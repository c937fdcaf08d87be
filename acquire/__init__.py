"""Sweeps from a serial port: how units talk, how bytes move, what a sweep is."""
