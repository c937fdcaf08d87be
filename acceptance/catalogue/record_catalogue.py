"""The catalogue: what all records tell, in one place, to be listed, searched and held together.

It is built from the records' folders and may be thrown away at any time. By default it is an SQLite
file among the records; its address may be any URL that SQLAlchemy knows, so that several benches
share one. Each bench takes in the records of its own folder and leaves those of others alone.

Taking in reads first, and writes all of it in one transaction then: whoever stops it, or pulls the
plug, finds the catalogue as it was before.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import exc
from sqlalchemy.engine import URL, Connection, make_url

from acceptance.catalogue.batch_checks import doubtful_records
from acceptance.catalogue.known_good_checks import doubted_by_known_good
from acceptance.catalogue.query import NEWEST_FIRST, Order, Query, sorted_by, where
from acceptance.catalogue.record_scan import Intake, Taken, folders_of
from acceptance.catalogue.record_summary import CatalogueEntry, RecordSummary
from acceptance.catalogue.tables import (
    BANDS,
    LAYOUT,
    LAYOUTS,
    LISTED,
    METADATA,
    OTHERS,
    RECIPES,
    RECORDS,
    entry_from_row,
    identity,
    summary_from_row,
)
from acceptance.chain.chain_folder import chain_as_kept
from acceptance.errors import CatalogueError, RecipeError
from acceptance.limits.decision import State
from acceptance.plan.recipe import NO_RECIPE, Recipe, parse_recipe
from acquire.errors import NamedFileError
from acquire.files.named_file import in_folder

CATALOGUE_FILE = "catalogue.sqlite"
WAIT_S = 30.0
"""How long another program's writing is waited for, where the database can."""
AT_ONCE = 500
"""Names in one statement, at most."""

Progress = Callable[[int, int], None]
"""Told how many of how many folders were read."""


@dataclass(frozen=True, slots=True)
class Broken:
    """A folder that looks like a record and cannot be read."""

    bench: str
    folder: str
    why: str
    """One sentence."""


@dataclass(frozen=True, slots=True)
class Found:
    """What a query finds."""

    entries: tuple[CatalogueEntry, ...]
    """The newest first, as many as were asked for."""
    states: Mapping[State, int]
    """How many of each overall state there are among all that were found."""

    @property
    def total(self) -> int:
        """How many were found."""
        return sum(self.states.values())


class Catalogue:
    """One catalogue. Every method raises CatalogueError, one sentence, where it cannot be used."""

    def __init__(self, address: str, *, bench: str = "", place: str = "") -> None:
        """address : an SQLAlchemy URL. bench, place : whose records are taken in, and from which
        folder; both empty where the catalogue belongs to one folder of records."""
        self._bench, self._place = bench, place
        self._records: Path | None = None
        self._doubts: Mapping[str, str] = {}
        self._url = _url(address)
        waiting = {"timeout": WAIT_S} if self._url.get_backend_name() == "sqlite" else {}
        with self._explained_errors():
            self._engine = sa.create_engine(self._url, connect_args=waiting)

    @classmethod
    def in_folder(cls, records: Path) -> Catalogue:
        """The catalogue of one folder of records, which is an SQLite file in it."""
        url = URL.create("sqlite", database=str(records / CATALOGUE_FILE))
        return cls(url.render_as_string(hide_password=False))

    @property
    def address(self) -> str:
        """Where it is, without its password."""
        return self._url.render_as_string(hide_password=True)

    def close(self) -> None:
        """Let go of it."""
        self._engine.dispose()

    def take_in(
        self,
        records: Path,
        report_progress: Progress = lambda _done, _of: None,
        *,
        anew: bool = False,
    ) -> Taken:
        """Bring the records of a folder into the catalogue, and what is gone out of it.

        A folder in which no file came or went is not opened, and one whose files are byte for byte
        as they were is not read again, unless anew. Broken folders are kept by name and reason.
        """
        self._records, self._doubts = records, _doubts(records)
        with self._explained_errors():
            self._ready(anew=anew)
            there = folders_of(records)
            with self._engine.connect() as connection:
                known = self._known(connection)
            wanted = [name for name in there if anew or known.get(name, _NEW)[0] != there[name]]
            gone = known.keys() - there.keys()
            taken = Taken(gone=len(gone), same=len(there) - len(wanted))
            intake = Intake(self._bench, self._place, taken)
            for done, name in enumerate(wanted):
                report_progress(done, len(wanted))
                intake.read(records / name, there[name], None if anew else known.get(name))
            report_progress(len(wanted), len(wanted))
            stale = known.keys() if anew else gone | intake.written_anew
            if stale or intake.holds_something:
                self._write(sorted(stale), intake)
        return taken

    def find(self, query: Query, most: int | None = None, order: Order = NEWEST_FIRST) -> Found:
        """Look records up; most : so many entries at most. order : the newest first without."""
        wanted = where(query)
        with self._explained_errors():
            self._ready()
            with self._engine.connect() as connection:
                rows = connection.execute(
                    sa.select(*LISTED).where(*wanted).order_by(*sorted_by(order)).limit(most)
                ).mappings()
                entries = tuple(self._doubted(entry_from_row(row)) for row in rows)
                counted = connection.execute(
                    sa.select(RECORDS.c.overall, sa.func.count())
                    .where(*wanted)
                    .group_by(RECORDS.c.overall)
                )
                counts = {str(state): int(count) for state, count in counted}
        states = {state: counts[state] for state in State if state in counts}
        return Found(entries, states)

    def summaries(self, query: Query) -> list[RecordSummary]:
        """All that is kept of the records that a query finds, the oldest first."""
        with self._explained_errors():
            self._ready()
            with self._engine.connect() as connection:
                rows = connection.execute(
                    sa.select(*LISTED, RECORDS.c.recipe_checksum, RECORDS.c.details)
                    .where(*where(query))
                    .order_by(RECORDS.c.at, RECORDS.c.folder)
                ).mappings()
                summaries = list(map(summary_from_row, rows))
        return [replace(each, entry=self._doubted(each.entry)) for each in summaries]

    def _doubted(self, entry: CatalogueEntry) -> CatalogueEntry:
        """A record, and what a later check of its batch says against it: no row is changed."""
        doubt = self._doubts.get(entry.folder) if entry.bench == self._bench else None
        if doubt is None:
            return entry
        caveat = f"{entry.caveat}; {doubt}" if entry.caveat else doubt
        return replace(entry, caveat=caveat.rstrip("."))

    def folder_of(self, entry: CatalogueEntry) -> Path | None:
        """Where a record's folder is; None where it is at another bench, or gone."""
        if self._records is None or entry.bench != self._bench:
            return None
        try:
            folder = in_folder(self._records, entry.folder)  # a shared catalogue's word is no path
        except NamedFileError:
            return None
        return folder if folder.is_dir() else None

    def recipes(self) -> dict[str, int]:
        """The recipes that records name, with how many do, by name."""
        with self._explained_errors():
            self._ready()
            with self._engine.connect() as connection:
                rows = connection.execute(
                    sa.select(RECORDS.c.recipe, sa.func.count())
                    .where(RECORDS.c.recipe != "")
                    .group_by(RECORDS.c.recipe)
                    .order_by(RECORDS.c.recipe)
                )
                return {str(name): int(count) for name, count in rows}

    def recipe_text(self, digest: str) -> str:
        """A recipe's TOML by its sum; empty where it is not known."""
        with self._explained_errors():
            self._ready()
            with self._engine.connect() as connection:
                text = connection.scalar(sa.select(RECIPES.c.text).where(RECIPES.c.sum == digest))
                return str(text or "")

    def recipe_of(self, summaries: Sequence[RecordSummary]) -> Recipe:
        """The recipe as the newest record has it; NO_RECIPE where that cannot be read.

        cards : of one recipe, the oldest first.
        """
        digests = [each.recipe_checksum for each in summaries if each.recipe_checksum]
        text = self.recipe_text(digests[-1]) if digests else ""
        try:
            return parse_recipe(text, "recipe.toml", kept=True) if text else NO_RECIPE
        except RecipeError:
            return NO_RECIPE

    def broken(self) -> list[Broken]:
        """The folders that look like records and cannot be read, by name."""
        with self._explained_errors():
            self._ready()
            with self._engine.connect() as connection:
                rows = connection.execute(
                    sa.select(OTHERS.c.bench, OTHERS.c.folder, OTHERS.c.why)
                    .where(OTHERS.c.why != "")
                    .order_by(OTHERS.c.bench, OTHERS.c.folder)
                )
                return [Broken(*row) for row in rows]

    @contextmanager
    def _explained_errors(self) -> Iterator[None]:
        """Say what the database says, in one sentence."""
        try:
            yield
        except exc.NoSuchModuleError as error:
            raise CatalogueError(
                f"The catalogue's address {self.address} names no kind of database that is known "
                "here. Write it as sqlite:///FILE or postgresql://USER@HOST/NAME."
            ) from error
        except ImportError as error:
            raise CatalogueError(
                f"The catalogue {self.address} needs the package {error.name}, which is not "
                "installed. Install bandwright[postgresql], or the package itself."
            ) from error
        except exc.SQLAlchemyError as error:
            raise CatalogueError(
                f"The catalogue {self.address} cannot be used: {_first_line(error)}. Check its "
                "address and your rights there, or make it anew: `bandwright records --rebuild`."
            ) from error

    def _ready(self, *, anew: bool = False) -> None:
        """Make the tables where there are none. Raises CatalogueError for another layout."""
        own = not (self._bench or self._place)
        try:
            layout = self._layout()
        except exc.DatabaseError:
            if not (own and anew and self._url.database):
                raise
            self.close()  # what is derived may be thrown away, whatever has become of it
            Path(self._url.database).unlink()
            layout = None
        if layout == LAYOUT:
            return
        if layout is not None and layout > LAYOUT:
            raise CatalogueError(
                f"The catalogue {self.address} was made by a later version (layout {layout}, this "
                f"one reads {LAYOUT}). Install the newer version, or name another catalogue."
            )
        if layout is not None and not (anew or own):
            raise CatalogueError(
                f"The catalogue {self.address} was made by an earlier version (layout {layout}, "
                f"this one reads {LAYOUT}). `bandwright records --rebuild` makes it anew; other "
                "benches then take their records in again by themselves."
            )
        with self._engine.begin() as connection:
            METADATA.drop_all(connection)
            METADATA.create_all(connection)
            connection.execute(LAYOUTS.insert().values(layout=LAYOUT))

    def _layout(self) -> int | None:
        with self._engine.connect() as connection:
            if not sa.inspect(connection).has_table(LAYOUTS.name):
                return None
            return connection.scalar(sa.select(LAYOUTS.c.layout))

    def _known(self, connection: Connection) -> dict[str, tuple[str, str]]:
        """Stamp and digest of every folder of ours that was taken in, by its name."""
        known = {
            folder: (stamp, digest)
            for folder, stamp, digest in connection.execute(
                sa.select(RECORDS.c.folder, RECORDS.c.stamp, RECORDS.c.digest).where(
                    *self._mine(RECORDS)
                )
            )
        }
        for folder, stamp in connection.execute(
            sa.select(OTHERS.c.folder, OTHERS.c.stamp).where(*self._mine(OTHERS))
        ):
            known[folder] = (stamp, "")
        return known

    def _mine(self, table: sa.Table) -> tuple[sa.ColumnElement[bool], ...]:
        return table.c.bench == self._bench, table.c.place == self._place

    def _id(self, folder: str) -> str:
        return identity(self._bench, self._place, folder)

    def _write(self, stale: Sequence[str], intake: Intake) -> None:
        """Put what was read in place of what is stale, all of it or nothing."""
        for last in (False, True):
            try:
                with self._engine.begin() as connection:
                    self._replace(connection, stale, intake)
            except exc.IntegrityError:  # another program took the same in just now
                if last:
                    raise
            else:
                return

    def _replace(self, connection: Connection, stale: Sequence[str], intake: Intake) -> None:
        for start in range(0, len(stale), AT_ONCE):
            some = [self._id(name) for name in stale[start : start + AT_ONCE]]
            connection.execute(BANDS.delete().where(BANDS.c.record.in_(some)))
            connection.execute(RECORDS.delete().where(RECORDS.c.id.in_(some)))
            connection.execute(OTHERS.delete().where(OTHERS.c.id.in_(some)))
        if intake.records:
            connection.execute(RECORDS.insert(), intake.records)
        if intake.bands:
            connection.execute(BANDS.insert(), intake.bands)
        if intake.others:
            connection.execute(OTHERS.insert(), intake.others)
        if intake.restamped:
            connection.execute(
                RECORDS.update()
                .where(RECORDS.c.id == sa.bindparam("b_id"))
                .values(stamp=sa.bindparam("b_stamp")),
                intake.restamped,
            )
        if intake.recipes:
            there = set(connection.scalars(sa.select(RECIPES.c.sum)))
            fresh = [{"sum": s, "text": t} for s, t in intake.recipes.items() if s not in there]
            if fresh:
                connection.execute(RECIPES.insert(), fresh)


_NEW = ("", "")


def _doubts(records: Path) -> dict[str, str]:
    """What batch and chain say against records, by their folders."""
    found = {**doubted_by_known_good(records), **doubtful_records(records)}
    if records.is_dir():
        for name, fault in chain_as_kept(records).faults.items():
            found[name] = f"{found[name]} {fault}" if name in found else fault
    return found


def _url(address: str) -> URL:
    try:
        url = make_url(address)
    except (exc.ArgumentError, ValueError) as error:
        raise CatalogueError(
            f'"{address.partition("://")[0]}..." is no address of a catalogue. Write it as '
            "sqlite:///FILE or postgresql://USER@HOST/NAME."
        ) from error
    return url.set(drivername="postgresql+psycopg") if url.drivername == "postgresql" else url


def _first_line(error: exc.SQLAlchemyError) -> str:
    """What the database itself says, without the statement that was asked."""
    message = str(getattr(error, "orig", None) or error).strip()
    return message.partition("\n")[0].rstrip(".")
