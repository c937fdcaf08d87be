"""The tables of bands, regions and services that come with this program."""

from __future__ import annotations

import functools
import importlib.resources

from acceptance.bands.band_table import (
    BandTable,
    Region,
    Service,
    parse_bands,
    parse_regions,
    parse_services,
)


@functools.cache
def load_bands() -> BandTable:
    """Return the shipped band table."""
    return parse_bands(shipped("bands.csv"))


@functools.cache
def load_regions() -> tuple[Region, ...]:
    """Return the shipped suggestions by region."""
    return parse_regions(shipped("regions.csv"))


@functools.cache
def load_services() -> tuple[Service, ...]:
    """Return the shipped services other than cellular."""
    return parse_services(shipped("services.csv"))


def shipped(name: str) -> str:
    """Return the text of a table that comes with this program, by its file's name."""
    return importlib.resources.files("acceptance.bands").joinpath(name).read_text(encoding="utf-8")
