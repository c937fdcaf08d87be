"""What the tests of acceptance share: records on disk, and databases to keep them in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from acceptance.catalogue.query import Query
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.catalogue.record_summary import RecordSummary
from acceptance.catalogue.tables import METADATA
from tests.acceptance.catalogue.postgres import WHY_NOT, programs, server


@pytest.fixture(scope="session")
def summaries(written_gauges: Path) -> list[RecordSummary]:
    """What a catalogue keeps of each of them, in the order of time."""
    catalogue = Catalogue("sqlite://")
    catalogue.take_in(written_gauges)
    found = catalogue.summaries(Query())
    catalogue.close()
    return found


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """The address of a real PostgreSQL server."""
    if programs() is None:
        pytest.skip(WHY_NOT)
    with server() as address:
        yield address


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.process)])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of an empty catalogue, in every kind of database that is here."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'shared.sqlite'}"
        return
    url = request.getfixturevalue("postgres")
    yield url
    engine = sa.create_engine(url.replace("postgresql:", "postgresql+psycopg:"))
    METADATA.drop_all(engine)
    engine.dispose()
