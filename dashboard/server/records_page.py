"""The records as pages: a list to search, antennas over one another, what a batch tells.

They are served whole and run nothing: what has been accepted does not change while one looks. All
of it comes from the catalogue; the curves come from the records' folders.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Literal, get_args
from urllib.parse import urlencode

from acceptance.batch import recipe_batch as batches
from acceptance.batch.record_comparison import MOST_COMPARED, ComparedRecord, compare_records
from acceptance.batch.size_effect import (
    SizeEffect,
    Suggestion,
    chosen_size_effects,
    suggest_next_sizes,
)
from acceptance.batch.wording import (
    enough,
    remarks,
    series_words,
    signals,
    suggestion_words,
    yield_words,
)
from acceptance.catalogue.batch_checks import batch_words
from acceptance.catalogue.known_good_checks import known_good_words
from acceptance.catalogue.query import Order, Query, SortKey
from acceptance.catalogue.record_catalogue import Catalogue, Found
from acceptance.errors import RecordError
from acceptance.limits.decision import State
from acceptance.pictures.batch_pictures import control_chart_picture, size_effect_picture
from acceptance.pictures.svg_drawing import Drawing
from acceptance.pictures.sweep_pictures import Trace, mark_picture, overview
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.verdict.wording import margin_of, short_limit
from acquire.files.named_file import in_folder
from dashboard.errors import SetupError
from dashboard.files.catalogue_access import (
    counted,
    day,
    invented_words,
    open_catalogue,
    recipe_named,
    state_of,
)
from dashboard.files.record_readings import readings_of
from dashboard.server.page_template import (
    PAGE_FIELD,
    WIDE,
    Answer,
    FormValues,
    PicturePair,
    page_answer,
)

MOST_LISTED = 200
FEW = 4
"""Antennas whose lines can be named side by side in a narrow picture."""
MARKS = {state: mark_picture(state).svg() for state in State}


SEARCHED = ("words", "recipe", "band", "verdict", "since", "until")
"""What the search's form holds."""
SORTED: tuple[tuple[SortKey, str, bool], ...] = (
    ("at", "Signed off", True),
    ("antenna", "Antenna", False),
    ("verdict", "Verdict", True),
    ("margin", "Least margin", False),
    ("recipe", "Recipe", False),
    ("operator", "By", False),
)
"""Columns that sort the list: their heads, and whether the first press sorts downwards."""
LONGEST_REASON = 200
Turned = Literal["none", "ascending", "descending"]


@dataclass(frozen=True, slots=True)
class Column:
    """The head of a column that sorts the list."""

    key: str
    words: str
    address: str
    state: Turned
    """As `aria-sort` has it."""


Page = Callable[[Catalogue | None, Path, FormValues], tuple[str, Mapping[str, Any]]]


def page_of(records: Path, page: Page) -> Answer:
    """Serve a page of the records in a folder; what cannot be shown is said in a sentence."""

    def make(form: FormValues) -> tuple[str, Mapping[str, Any]]:
        with open_catalogue(records) as catalogue:
            name, suggestions = page(catalogue, records, form)
        return name, {"marks": MARKS, "limit": short_limit, "margin": margin_of, **suggestions}

    return page_answer(make)


def list_page(
    catalogue: Catalogue | None, _records: Path, form: FormValues
) -> tuple[str, dict[str, Any]]:
    """The newest records that fit what was asked."""
    query, order = asked_query(form), asked_order(form)
    found, recipes, broken = Found((), {}), {}, []
    if catalogue is not None:
        found, recipes = catalogue.find(query, MOST_LISTED, order), catalogue.recipes()
        broken = catalogue.broken()
    invented = sum(each.invented for each in found.entries)
    doubts = [f"{each.antenna}: {each.caveat}." for each in found.entries if each.caveat]
    notes = [*doubts, *(each.why for each in broken)]
    if invented:
        whose = "All" if invented == len(found.entries) else f"{invented}"
        notes.insert(0, f"{whose} of these come from the virtual bench: the data is invented.")
    if form.deleted:
        notes.insert(0, f"{form.deleted} is deleted. Its stub stays in the chain of records.")
    return "records", {
        "form": form,
        "recipes": list(recipes.items()),
        "states": list(State),
        "columns": _columns(form, order),
        "asked": _asked(form),
        "sort": f"{order.key}",
        "turned": "down" if order.descending else "up",
        "entries": found.entries,
        "counted": counted(found, filtered=query != Query()).partition(" The newest")[0],
        "notes": [
            *(
                [f"The first {MOST_LISTED} are shown. An export holds all of them."]
                if found.total > MOST_LISTED
                else []
            ),
            *notes,
        ],
    }


def asked_query(form: FormValues) -> Query:
    """What the search asks for. Raises SetupError for what is no day or no verdict."""
    return Query(
        words=tuple(form.words.split()),
        recipe=form.recipe,
        band=form.band,
        state=state_of(form.verdict),
        since=day(form.since, "From"),
        until=day(form.until, "Until", after=1),
    )


def asked_order(form: FormValues) -> Order:
    """How the list is to be sorted; the newest first where the page names no column."""
    keys = {each: each for each in get_args(SortKey)}
    key = keys.get(form.sort)
    return Order() if key is None else Order(key, form.order == "down")


def _asked(form: FormValues) -> str:
    """The search as the query of an address."""
    return urlencode({name: value for name in SEARCHED if (value := getattr(form, name))})


def _columns(form: FormValues, order: Order) -> list[Column]:
    """The heads of the columns: pressing the one in use turns it round."""
    found = []
    for key, words, descending in SORTED:
        now = order.key == key
        down = not order.descending if now else descending
        query = {"sort": key, "order": "down" if down else "up"}
        address = "&".join(filter(None, (_asked(form), urlencode(query))))
        state: Turned = "none"
        if now:
            state = "descending" if order.descending else "ascending"
        found.append(Column(key, words, f"/records?{address}", state))
    return found


def comparison_page(
    catalogue: Catalogue | None, _records: Path, form: FormValues
) -> tuple[str, dict[str, Any]]:
    """Up to twelve antennas over one another."""
    names = form.all("record")
    if not 1 <= len(names) <= MOST_COMPARED or catalogue is None:
        raise SetupError(
            f"{len(names)} records are selected, and 1 to {MOST_COMPARED} can be compared at once. "
            "Select them in the list."
        )
    marked = [(bench, folder) for bench, _, folder in (name.rpartition("/") for name in names)]
    query = Query(antennas=tuple(folder for _, folder in marked))
    summaries = {(each.entry.bench, each.entry.folder): each for each in catalogue.summaries(query)}
    found = compare_records([summaries[each] for each in marked if each in summaries])
    readings = readings_of(found, catalogue)
    drawn = {
        each.letter: (each.summary.entry.antenna, reading)
        for each in found.antennas
        if not isinstance(reading := readings[each.letter], str)
    }
    judged = [row.judged for row in found.bands]

    def over_one_another(width: float, high: float) -> Drawing:
        roomy = width >= WIDE[0]
        traces = [
            Trace(f"{letter} {name}" if roomy else letter, each.frequency_hz, each.reflection)
            for letter, (name, each) in drawn.items()
        ]
        return overview(width, high, traces, judged)

    notes = [f"{key} is not drawn: {why}." for key, why in readings.items() if isinstance(why, str)]
    notes += invented_words(found)
    return "compare", {
        "antennas": found.antennas,
        "bands": found.bands,
        "picture": PicturePair.by(over_one_another) if drawn else None,
        "names_fit_narrow": len(drawn) <= FEW,
        "dips": _dips,
        "notes": notes,
    }


def batch_page(
    catalogue: Catalogue | None, _records: Path, form: FormValues
) -> tuple[str, dict[str, Any]]:
    """What the records of one recipe tell together."""
    if catalogue is None:
        raise SetupError("There is no record yet, so there is no batch.")
    name = recipe_named(form.recipe or None, catalogue.recipes())
    summaries = catalogue.summaries(Query(recipe=name))
    found, recipe = batches.batch(summaries), catalogue.recipe_of(summaries)
    every = chosen_size_effects(found, recipe, "", None)
    chosen = chosen_size_effects(found, recipe, form.dimension, None) if form.dimension else every
    suggestions = suggest_next_sizes(
        chosen, found, _mhz(form.target), recipe, alone=bool(form.dimension)
    )
    series = [*found.dips, *([found.margin] if found.margin else [])]
    return "batch", {
        "recipe": name,
        "dimension": form.dimension,
        "target": form.target,
        "counted": f"{len(found.built)} records of {found.antennas} antennas.",
        "yields": yield_words(found),
        "bands": found.bands,
        "others": _others,
        "charts": [
            (
                series_words(each),
                PicturePair.by(partial(control_chart_picture, each)) if enough(each) else None,
                signals(each),
            )
            for each in series
        ],
        "cuts": every,
        "slope": _slope,
        "cut_pictures": _cut_pictures(chosen if form.dimension else [], suggestions),
        "next": [
            suggestion_words(cut, each) if isinstance(each, Suggestion) else f"{cut.label}: {each}"
            for cut, each in suggestions
        ]
        or [f"{each.label}: {each.why_not}" for each in every if each.why_not],
        "remarks": remarks(summaries, found),
    }


def recheck_page(
    _catalogue: Catalogue | None, records: Path, form: FormValues
) -> tuple[str, dict[str, Any]]:
    """A record checked, as `recheck` does it."""
    folder = in_folder(records, form.record)
    found = recheck_folder(folder)
    counts, by_batch = batch_words(found.record, folder)
    unspoilt, by_known_good = known_good_words(folder)
    return "recheck", {
        "antenna": found.record.acceptance.antenna,
        "name": found.record.name,
        "folder": folder,
        "holds": found.holds and counts and unspoilt,
        "lines": (*found.lines, *(each for each in (by_batch, by_known_good) if each)),
    }


def delete_page(
    catalogue: Catalogue | None, records: Path, form: FormValues
) -> tuple[str, dict[str, Any]]:
    """What deleting a record takes away and what it leaves, to be confirmed."""
    folder = in_folder(records, form.record)
    found = () if catalogue is None else catalogue.find(Query(antennas=(form.record,))).entries
    entry = next((each for each in found if each.folder == form.record), None)
    if entry is None or not folder.is_dir():
        raise RecordError(f"There is no record {form.record} on this bench. It may be deleted.")
    files = sorted(each.name for each in folder.rglob("*") if each.is_file())
    return "delete", {
        "entry": entry,
        "folder": folder,
        "files": files,
        "token": getattr(form, PAGE_FIELD),
        "longest": LONGEST_REASON,
    }


def _dips(antenna: ComparedRecord) -> str:
    return ", ".join(
        f"{dip.beyond} {dip.frequency_hz / 1e6:.1f}".strip() for dip in antenna.result.dips
    )


def _others(band: batches.BandYield) -> list[tuple[State, int]]:
    return [
        (state, band.states[state])
        for state in State
        if state is not State.PASS and band.states.get(state)
    ]


def _slope(found: SizeEffect) -> str:
    if found.line is None:
        return ""
    low, high = found.line.slope_interval()
    return f"{found.line.slope:+.1f} ({low:+.1f} to {high:+.1f})"


def _cut_pictures(
    chosen: Sequence[SizeEffect], suggestions: Sequence[tuple[SizeEffect, Suggestion | str]]
) -> list[PicturePair]:
    next_ones = {cut.dimension: each for cut, each in suggestions if isinstance(each, Suggestion)}
    drawn = [*chosen, *(cut for cut, _ in suggestions if cut not in chosen)]
    return [
        PicturePair.by(partial(size_effect_picture, each, next_ones.get(each.dimension)))
        for each in drawn
        if each.sizes_mm
    ]


def _mhz(text: str) -> float | None:
    if not text:
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not 0 < value < 1e5:
        raise RecordError(f'"{text}" is no frequency. Write it in MHz: 836.')
    return value
