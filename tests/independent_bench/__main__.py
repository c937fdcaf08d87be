"""Print what docs/how-far-can-i-trust-it.md says was found: python -m tests.independent_bench."""

from __future__ import annotations

from tests.independent_bench.held import (
    ABOVE_FLOOR_DB,
    LOADS_DB,
    RETURN_LOSSES_DB,
    covered,
    width_ratio,
)

COVERED_DB = (3.0, 8.0, 15.0, 22.0, 35.0, 50.0)


def main() -> None:
    """Coverage of 1,000 benches, then the ratio of half-widths, least to largest frequency."""
    print("inside of 1,000, at", *(f"{each:g}" for each in COVERED_DB), "dB")
    for load_db in LOADS_DB:
        found = covered(load_db, COVERED_DB, 1000)
        print(f"{load_db:g} dB load:", *(each.inside for each in found.values()))
    print("half-width over Monte Carlo's")
    for load_db in LOADS_DB:
        for true_db in RETURN_LOSSES_DB:
            if true_db <= load_db - ABOVE_FLOOR_DB:
                ratio = width_ratio(load_db, true_db, 24)
                print(f"{load_db:g} dB load, {true_db:g} dB:", *(f"{each:.2f}" for each in ratio))


if __name__ == "__main__":
    main()
