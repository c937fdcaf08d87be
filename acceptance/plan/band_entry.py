"""One [[band]] of a plan's file: what it may hold, and the targets it means."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, NoReturn

from pydantic import BaseModel, ConfigDict, Field

from acceptance.bands.band_table import Band, BandTable, Link, mhz
from acceptance.bands.channels import lte_channel, nr_channel
from acceptance.errors import BandError, PlanError
from acceptance.limits.limit import Limit, Preset
from acceptance.plan.acceptance_plan import Target
from acquire.files.doubtful_figure import doubtful_figures

NARROWEST_HZ = 1e3

Number = Annotated[float, Field(allow_inf_nan=False)]
Name = Annotated[str, Field(min_length=1, max_length=100)]


class Strict(BaseModel):
    """Nothing unknown, nothing converted."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class LimitEntry(Strict):
    """A limit of one link."""

    return_loss_db: Number | None = None
    vswr: Number | None = None


class BandEntry(Strict):
    """The entry as it is written."""

    lte: int | None = None
    nr: int | None = None
    earfcn: int | None = None
    nr_arfcn: int | None = None
    name: Name | None = None
    low_mhz: Number | None = None
    high_mhz: Number | None = None
    return_loss_db: Number | None = None
    vswr: Number | None = None
    limit: str | None = None
    uplink: LimitEntry | None = None
    downlink: LimitEntry | None = None


class EntryReader:
    """One [[band]] of a plan, with what messages call it."""

    def __init__(
        self, entry: BandEntry, where: str, bands: BandTable, presets: Sequence[Preset]
    ) -> None:
        self._entry = entry
        self._where = where
        self._bands = bands
        self._presets = presets

    def _refuse(self, sentence: str) -> NoReturn:
        raise PlanError(f"{self._where}: {sentence}")

    def targets(self) -> list[Target]:
        """What is to be judged, link by link. Raises PlanError: which entry, what, and the cure."""
        entry = self._entry
        own = entry.low_mhz is not None or entry.high_mhz is not None or entry.name is not None
        numbered = [
            key for key in ("lte", "nr", "earfcn", "nr_arfcn") if getattr(entry, key) is not None
        ]
        if own and numbered:
            self._refuse(
                f"{numbered[0]} and a range of its own are both given. Keep {numbered[0]}, or "
                "name with low_mhz and high_mhz."
            )
        if own:
            return [self._own_target()]
        if not numbered:
            self._refuse(
                "it names no band. Write lte, nr, earfcn or nr_arfcn with a number, or name with "
                "low_mhz and high_mhz."
            )
        band = self._band(numbered)
        self._where += f" ({band.name})"
        if band.duplex == "TDD" and (entry.uplink or entry.downlink):
            self._refuse(
                "a TDD band has one range for both links. Give one limit, without uplink and "
                "downlink."
            )
        links = [link for link, _ in band.spans]
        for link in ("uplink", "downlink"):
            if getattr(entry, link) is not None and link not in links and band.duplex != "TDD":
                self._refuse(f"the band has no {link}. Remove the {link} limit.")
        return [
            self._doubted(Target(band.name, link, low_hz, high_hz, self._limit(link), band.note))
            for link, (low_hz, high_hz) in band.spans
        ]

    def _doubted(self, target: Target) -> Target:
        """The target with why it is hardly what was meant, where it is not."""
        range_mhz = {"low_mhz": self._entry.low_mhz, "high_mhz": self._entry.high_mhz}
        name = target.name if target.link == "both" else f"{target.name} {target.link}"
        doubts = (target.limit.doubt, *doubtful_figures(range_mhz))
        sentences = [f"{name}: {each}" for each in doubts if each]
        return replace(target, doubt=" ".join(sentences)) if sentences else target

    def _own_target(self) -> Target:
        entry = self._entry
        if not (entry.name and entry.low_mhz is not None and entry.high_mhz is not None):
            self._refuse("a range of one's own needs name, low_mhz and high_mhz.")
        self._where += f" ({entry.name})"
        if entry.uplink or entry.downlink:
            self._refuse("a range of one's own has no uplink and downlink. Give one limit.")
        if not 0 < entry.low_mhz < entry.high_mhz <= 100_000:
            self._refuse(
                f"low_mhz = {entry.low_mhz:g} and high_mhz = {entry.high_mhz:g} are no range. The "
                "lower edge comes first, both in MHz, above 0 and at most 100000."
            )
        low_hz, high_hz = mhz(entry.low_mhz), mhz(entry.high_mhz)
        if high_hz - low_hz < NARROWEST_HZ:
            self._refuse(f"a range of {high_hz - low_hz:g} Hz is too narrow to be measured.")
        return self._doubted(Target(entry.name, "both", low_hz, high_hz, self._limit("both")))

    def _band(self, numbered: list[str]) -> Band:
        entry = self._entry
        try:
            if numbered == ["lte"] and entry.lte is not None:
                return self._bands.find("lte", entry.lte)
            if numbered == ["nr"] and entry.nr is not None:
                return self._bands.find("nr", entry.nr)
            if numbered == ["earfcn"] and entry.earfcn is not None:
                return lte_channel(entry.earfcn, self._bands).bands[0][0]
            if "nr_arfcn" in numbered and numbered in (["nr_arfcn"], ["nr", "nr_arfcn"]):
                return self._band_of_nr_channel()
        except BandError as error:
            self._refuse(str(error))
        return self._refuse(f"{' and '.join(numbered)} are both given. Keep one.")

    def _band_of_nr_channel(self) -> Band:
        entry = self._entry
        channel = nr_channel(entry.nr_arfcn or 0, self._bands)
        where = f"nr_arfcn = {channel.number} is {channel.frequency_hz / 1e6:.3f} MHz"
        if entry.nr is not None:
            band = self._bands.find("nr", entry.nr)
            if all(band is not candidate for candidate, _ in channel.bands):
                self._refuse(f"{where}, which is not in {band.name}. Remove one of the two.")
            return band
        if not channel.bands:
            self._refuse(f"{where}, which lies in no band of the table. Check the number.")
        # A modem reports the channel it hears, so a band's downlink comes first.
        heard = [band for band, link in channel.bands if link != "uplink"]
        if len(heard) > 1 or not heard:
            listed = ", ".join(f"n{band.number} ({link})" for band, link in channel.bands)
            self._refuse(
                f"{where}, which lies in {listed}. Say which the modem uses by a line such as "
                f"nr = {(heard or [channel.bands[0][0]])[0].number} beside it."
            )
        return heard[0]

    def _limit(self, link: Link) -> Limit:
        """The limit for a link: its own, else the entry's."""
        entry = self._entry
        own = {"uplink": entry.uplink, "downlink": entry.downlink}.get(link)
        if own is not None:
            limit = self._written(own.return_loss_db, own.vswr, link)
            if limit is None:
                self._refuse(f"{link} = {{}} has no limit. Write {link} = {{ vswr = 1.8 }}.")
            return limit
        limit = self._written(entry.return_loss_db, entry.vswr, "")
        if entry.limit is not None:
            if limit is not None:
                self._refuse("a preset and a limit are both given. Keep one.")
            return self._preset(entry.limit, link)
        if limit is None:
            self._refuse(
                "it has no limit. Write return_loss_db = 10, or vswr = 2.0; the two are not the "
                "same."
            )
        return limit

    def _written(self, level_db: float | None, ratio: float | None, link: str) -> Limit | None:
        place = f"{link}: " if link else ""
        if level_db is not None and ratio is not None:
            self._refuse(f"{place}return_loss_db and vswr are both given. Keep one.")
        try:
            if level_db is not None:
                return Limit.return_loss(level_db)
            if ratio is not None:
                return Limit("vswr", ratio)
        except PlanError as error:
            self._refuse(f"{place}{error}")
        return None

    def _preset(self, name: str, link: Link) -> Limit:
        rows = [preset for preset in self._presets if preset.name == name]
        if not rows:
            try:
                float(name)
            except ValueError:
                known = ", ".join(dict.fromkeys(preset.name for preset in self._presets))
                self._refuse(f'limit = "{name}" is no preset. There are: {known or "none"}.')
            self._refuse(
                f'limit = "{name}" has no metric. Write return_loss_db = {name} or vswr = {name}.'
            )
        for preset in rows:
            if preset.link in ("both", link):
                return preset.limit
        return self._refuse(
            f'limit = "{name}" differs between uplink and downlink, but this range is both. Give '
            "return_loss_db or vswr."
        )
