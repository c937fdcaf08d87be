"""Numbers that look as if they were written in another format than the option line names.

A file with the wrong format in its header is read without an error, and the reflection is another
one. Each pair of formats leaves traces [derived]: parts of a passive reflection lie within 1,
degrees run to 180, decibels of a passive reflection are below 0.
"""

from __future__ import annotations

import numpy as np

from acquire.touchstone.data_rows import Table
from acquire.touchstone.option_line import OptionLine

LEAST_POINTS = 3
"""Fewer may lie beside the real axis by chance."""
SMALL_ANGLE_DEG = 3.2
"""Angles that all stay within this are no phases of an antenna: imaginary parts stay within 1, and
radians within 3.15."""
PASSIVE = 1.2
"""The size of a passive reflection, with what a raw reading may add."""


def format_doubt(table: Table, option: OptionLine) -> str:
    """Say in which format the numbers of port 1 look to be written; empty where nothing speaks
    against the one named. Only for S parameters: what the others may be has no bounds."""
    first, second = table.values[:, 1], table.values[:, 2]
    known = np.isfinite(first) & np.isfinite(second)
    first, second = first[known], second[known]
    if option.parameter != "s" or first.size < LEAST_POINTS or not (first.any() and second.any()):
        return ""
    small_angles = bool(np.abs(second).max() <= SMALL_ANGLE_DEG)
    small = bool(np.abs(first).max() <= PASSIVE)
    named = option.number_format.upper()
    if option.number_format != "ri" and small_angles and (small or named == "MA"):
        return (
            f"All angles lie within {np.abs(second).max():.2g} degrees, as no antenna's do. So "
            f"read real and imaginary parts, or radians, below a header that names {named}. If the "
            "numbers are real and imaginary parts, write RI in its place."
        )
    if option.number_format == "db" and small and first.min() >= 0:
        return (
            "All levels lie between 0 and 1.2 dB, as magnitudes would. If the numbers are "
            "magnitudes and degrees, write MA in the option line."
        )
    if option.number_format == "ri" and np.abs(second).max() > PASSIVE:
        other = "MA" if small and first.min() >= 0 else "DB" if first.max() <= 0 else ""
        if other:
            return (
                f"The imaginary parts reach {np.abs(second).max():.4g}, as degrees would. If the "
                f"numbers are {'magnitudes' if other == 'MA' else 'decibels'} and degrees, write "
                f"{other} in the option line."
            )
    return ""
