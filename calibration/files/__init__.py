"""The files of calibrations, devices, planes and cables."""
