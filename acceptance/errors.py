"""The errors of acceptance.

BandwrightError                 the root all packages share
    AcceptanceError             deciding, and writing the decision down
        BandError               a band, region or channel number that does not exist
        PlanError               a plan that cannot be used
        RecipeError             a recipe, or a dimension of it, that cannot be used
        VerdictError            readings that cannot be judged as asked
        RecordError             a record that cannot be written
        CatalogueError          a catalogue of records that cannot be used

Each message says what happened, why, and what to do next, with numbers.
"""

from acquire.errors import BandwrightError


class AcceptanceError(BandwrightError):
    """Base of what can go wrong while deciding and recording."""


class BandError(AcceptanceError):
    """A band, region or channel number does not exist; the message names what does."""


class PlanError(AcceptanceError):
    """A plan cannot be used; the message names the entry, the field and the cure."""


class RecipeError(AcceptanceError):
    """A recipe cannot be used, or has no such dimension; the message names the cure."""


class VerdictError(AcceptanceError):
    """Readings cannot be judged as asked."""


class RecordError(AcceptanceError):
    """A record cannot be written; nothing half-written is left behind."""


class CatalogueError(AcceptanceError):
    """A catalogue cannot be used; the records themselves are as they were."""
