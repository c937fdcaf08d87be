"""What a person may state of a load: a return loss that the interval can be built on."""

from __future__ import annotations

from calibration.errors import CalibrationError

LEAST_DB = 14.0
"""A load that reflects more is none: the error it leaves is no longer small beside what is read,
the interval is worked out as if it were, and breaks at 8 dB [run]."""
BEST_UNASKED_DB = 46.0
"""Better loads exist with a certificate of their own; a figure without one is a wish [practice]."""
LONGEST_SOURCE = 200


def require_stated_load(decibels: float | None, source: str = "") -> None:
    """Say nothing where a load may be stated so. Raises CalibrationError, with the cure.

    decibels : its return loss, positive; None: nothing is stated. source : where the figure comes
    from, such as "certificate 123"; asked for above `BEST_UNASKED_DB`.
    """
    if decibels is None:
        if source:
            raise CalibrationError(
                "Where the load's figure is from is said, and no figure. State its return loss too."
            )
        return
    if not LEAST_DB <= decibels <= 80:
        raise CalibrationError(
            f"A load of {decibels:g} dB cannot be calibrated with: no interval holds behind a load "
            f"below {LEAST_DB:g} dB, and none is better than 80 dB. State its return loss as a "
            "positive number, or take a better load."
        )
    if len(source) > LONGEST_SOURCE or not source.isprintable():
        raise CalibrationError(
            f"Say where the load's figure is from in one line of at most {LONGEST_SOURCE} letters."
        )
    if decibels > BEST_UNASKED_DB and not source.strip():
        raise CalibrationError(
            f"A load of {decibels:g} dB is a laboratory's: where is the figure from? Say it with "
            '--load-source "certificate 123" (load_source in a kit), or state '
            f"{BEST_UNASKED_DB:g} dB or less."
        )
