"""The corrected readings of a line-up, apart from lists of records: those need no reading."""

from __future__ import annotations

from acceptance.batch.record_comparison import RecordComparison
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.errors import RecordError
from acceptance.record.record_folder import corrected_of
from acquire.sweep import Reading


def readings_of(found: RecordComparison, catalogue: Catalogue) -> dict[str, Reading | str]:
    """The corrected reading of each antenna by its letter, or why there is none."""
    by_letter: dict[str, Reading | str] = {}
    for each in found.antennas:
        entry = each.summary.entry
        folder = catalogue.folder_of(entry)
        if folder is None:
            by_letter[each.letter] = f"the folder {entry.folder} is not at this bench"
            continue
        try:
            by_letter[each.letter] = corrected_of(folder, each.result.name)
        except RecordError as error:
            by_letter[each.letter] = str(error).rstrip(".")
    return by_letter
