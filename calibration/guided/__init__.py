"""Calibration and verification led step by step."""
