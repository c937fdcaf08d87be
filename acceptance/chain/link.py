"""A record's link to the one before, and what a chain of them shows.

A record of number n holds, under `chain` in its `record.json`, n and the chain's sum up to the one
before. That sum is rolled on: the SHA-256 (FIPS 180-4) of number, sum before, and the SHA-256 of
the record's SHA256SUMS [derived]. So each record answers for all before it, and of one that was
deleted number, sum before and the sum of its sums are enough to go on.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from acceptance.record.acceptance_record import Acceptance
from acceptance.record.layouts import CHAIN


@dataclass(frozen=True, slots=True)
class Link:
    """Where a record stands in its chain."""

    number: int = 1
    """From 1."""
    before: str = ""
    """The chain's sum up to the record before; empty for the first."""

    def as_json(self) -> dict[str, object]:
        """What stands in `record.json`."""
        return {"number": self.number, "before": self.before}

    @classmethod
    def from_json(cls, recorded: Any) -> Link | None:
        """Of what a record tells; None where it tells no link."""
        match recorded:
            case {"number": int(number), "before": str(before)} if number >= 1:
                return cls(number, before)
            case _:
                return None

    def sum_after(self, sums: str) -> str:
        """The chain's sum up to this record; sums : the SHA-256 of its SHA256SUMS, in digits."""
        return hashlib.sha256(f"{self.number}\n{self.before}\n{sums}\n".encode()).hexdigest()


def linked(acceptance: Acceptance, link: Link) -> Acceptance:
    """An acceptance that its record will hold this link of."""
    return replace(acceptance, carried={**acceptance.carried, CHAIN: link.as_json()})


@dataclass(frozen=True, slots=True)
class Chained:
    """A record, or the stub of one that was deleted, as it stands in a folder."""

    name: str
    at: datetime
    """When it was signed off."""
    link: Link | None
    """None for one of before there were chains."""
    sums: str
    """SHA-256 of its SHA256SUMS; empty where that is gone."""
    whole: bool = True
    """False where what it tells of its link is not as its sums say."""
    deleted: str = ""
    """Of a stub: when and why; else empty."""

    @property
    def sum(self) -> str:
        """The chain's sum up to it; empty where there is none."""
        return "" if self.link is None else self.link.sum_after(self.sums)


@dataclass(frozen=True, slots=True)
class ChainFindings:
    """What a folder's records show of their chain."""

    linked: int
    faults: Mapping[str, str]
    """What is wrong, a sentence each, by the record at which it shows."""
    remarks: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """True where nothing shows that one was withheld, rolled back or put in."""
        return not self.faults

    @property
    def lines(self) -> tuple[str, ...]:
        """All of it, the worst first."""
        return (*self.faults.values(), *self.remarks)


def chain_findings(records: Sequence[Chained], last: int = 0) -> ChainFindings:
    """Hold the records of a folder against each other.

    last : the number that the bench wrote last, by its own book; 0 where that is not known.
    """
    linked = [each for each in records if each.link is not None]
    faults = dict(_faults(records, linked))
    remarks = [f"{each.name} was deleted {each.deleted}." for each in linked if each.deleted]
    newest = max((each.link.number for each in linked if each.link), default=0)
    if last > newest:
        faults.setdefault(
            f"number {last}",
            f"This bench wrote up to number {last}, and the newest here is number {newest}: the "
            "newest were withheld, or the folder was rolled back.",
        )
    older = len(records) - len(linked)
    if older:
        remarks.append(f"{older} of {len(records)} records have no link to the one before.")
    if linked:
        stand = "record stands" if len(linked) == 1 else "records stand"
        remarks.append(
            f"{len(linked)} {stand} in the chain, up to number {newest}. That the newest was "
            f"withheld cannot show here: ask whether there is a number {newest + 1}."
        )
    else:
        remarks.append("No record here stands in a chain, so nothing shows whether one is missing.")
    return ChainFindings(len(linked), faults, tuple(remarks))


def _faults(records: Sequence[Chained], linked: Sequence[Chained]) -> Iterator[tuple[str, str]]:
    by_sum = {each.sum: each for each in linked}
    by_number: dict[int, list[Chained]] = defaultdict(list)
    followers: dict[str, list[Chained]] = defaultdict(list)
    for each in by_sum.values():
        if each.link is not None:
            by_number[each.link.number].append(each)
            followers[each.link.before].append(each)
    for each in by_sum.values():
        if each.link is None:
            continue
        number, before = each.link.number, by_sum.get(each.link.before)
        if not each.whole:
            yield each.name, f"{each.name} is not as it was when its sums were made."
        elif number == 1 and each.link.before == "":
            pass
        elif before is None:
            yield each.name, _gap(each, number, by_number)
        elif before.link is not None and before.link.number != number - 1:
            yield each.name, f"{each.name} is numbered {number}, and follows {before.name}: put in."
    for rivals in followers.values():
        first, *others = sorted(rivals, key=lambda one: one.at)
        for each in others:
            yield (
                each.name,
                f"{each.name} follows the same record as {first.name} does, or begins a chain as "
                "it does: one of them was put in, or the folder was rolled back in between.",
            )
    begun = min((each.at for each in linked), default=None)
    for each in records:
        if each.link is None and begun is not None and each.at > begun:
            yield each.name, f"{each.name} is newer than the chain and stands outside it: put in."


def _gap(record: Chained, number: int, by_number: Mapping[int, Sequence[Chained]]) -> str:
    if changed := by_number.get(number - 1):
        names = ", ".join(each.name for each in changed)
        return f"{names} is not as it was when {record.name} was written after it."
    first = max((each for each in by_number if each < number), default=0) + 1
    which = f"number {first}" if first == number - 1 else f"numbers {first} to {number - 1}"
    return f"Before {record.name}, which is number {number}, {which} is missing: it was withheld."
