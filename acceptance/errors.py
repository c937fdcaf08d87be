"""The errors of acceptance.

BandwrightError                 the root all packages share
    AcceptanceError             deciding, and writing the decision down
        BandError               a band, region or channel number that does not exist
        PlanError               a plan that cannot be used
        VerdictError            readings that cannot be judged as asked
        RecordError             a record that cannot be written

Each message says what happened, why, and what to do next, with numbers.
"""

from acquire.errors import BandwrightError


class AcceptanceError(BandwrightError):
    """Base of what can go wrong while deciding and recording."""


class BandError(AcceptanceError):
    """A band, region or channel number does not exist; the message names what does."""


class PlanError(AcceptanceError):
    """A plan cannot be used; the message names the entry, the field and the cure."""


class VerdictError(AcceptanceError):
    """Readings cannot be judged as asked."""


class RecordError(AcceptanceError):
    """A record cannot be written; nothing half-written is left behind."""
