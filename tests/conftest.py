"""What all tests share: Hypothesis' settings, and what several folders look at."""

from __future__ import annotations

from pathlib import Path

import pytest

import tests.counts  # noqa: F401  # Hypothesis' settings, before any test is read


@pytest.fixture(scope="session")
def gauge_records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder with the records of the whole batch of invented gauges; to be read only."""
    from acceptance.record.record_folder import write_record
    from dashboard.demo import example_batch

    folder = tmp_path_factory.mktemp("gauges")
    for each in example_batch.records():
        write_record(each, folder)
    return folder
