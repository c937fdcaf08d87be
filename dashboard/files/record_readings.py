"""The corrected readings of a line-up, apart from lists of records: those need no reading."""

from __future__ import annotations

from acceptance.batch.side_by_side import LineUp
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.errors import RecordError
from acceptance.record.record_folder import corrected_of
from acquire.sweep import Reading


def readings_of(found: LineUp, catalogue: Catalogue) -> dict[str, Reading | str]:
    """The corrected reading of each unit by its letter, or why there is none."""
    told: dict[str, Reading | str] = {}
    for each in found.units:
        entry = each.card.entry
        folder = catalogue.folder_of(entry)
        if folder is None:
            told[each.letter] = f"the folder {entry.folder} is not at this bench"
            continue
        try:
            told[each.letter] = corrected_of(folder, each.result.name)
        except RecordError as error:
            told[each.letter] = str(error).rstrip(".")
    return told
