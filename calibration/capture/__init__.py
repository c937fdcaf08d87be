"""Readings become one: movement told from noise, averaging, the capture of a standard."""
