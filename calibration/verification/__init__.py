"""Checks of a calibration: verification devices, drift, repeatability, residual errors."""
