"""What takes long is dealt out evenly among the workers of a run, and comes first."""

from __future__ import annotations

import random

import pytest

from tests.conftest import shares


@pytest.mark.parametrize("workers", [2, 3, 4, 8])
@pytest.mark.parametrize(("count", "long"), [(100, 10), (101, 37), (40, 40), (3, 1), (0, 0)])
def test_each_share_begins_with_its_part_of_what_takes_long(
    count: int, long: int, workers: int
) -> None:
    chosen = set(random.Random(1).sample(range(count), long))
    takes_long = [at in chosen for at in range(count)]
    dealt = shares(list(range(count)), takes_long, workers)
    assert sorted(dealt) == list(range(count))
    found, begin = [], 0
    for worker in range(workers):  # as `--dist worksteal` deals them out
        end = begin + (count - begin) // (workers - worker)
        share = [takes_long[at] for at in dealt[begin:end]]
        if long < count // 2:
            assert share == sorted(share, reverse=True)
        found.append(sum(share))
        begin = end
    assert max(found) - min(found) <= 1
