"""The corrected readings of a line-up, apart from lists of records: those need no reading."""

from __future__ import annotations

from acceptance.batch.margin_difference import MarginDifference, margin_difference
from acceptance.batch.record_comparison import BandRow, RecordComparison
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.errors import RecordError
from acceptance.record.record_folder import corrected_of, examined_of
from acquire.sweep import Reading


def difference_of(
    found: RecordComparison, row: BandRow, catalogue: Catalogue
) -> MarginDifference | None:
    """How far the two antennas at a band's ends are apart; None where their records do not tell."""
    if row.ends is None:
        return None
    pair = []
    for which in row.ends:
        each = found.antennas[which]
        folder = catalogue.folder_of(each.summary.entry)
        if folder is None:
            return None
        try:
            pair.append((each.result.name, examined_of(folder)))
        except RecordError:
            return None
    return margin_difference(row.judged, pair)


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
