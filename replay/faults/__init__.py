"""Faults put into bytes, analyzers and ports, by a seed."""
