"""The independent bench: what it is made of is right, and knows nothing of the program."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

from calibration.error_terms.one_port import correct
from tests.independent_bench.bench import (
    Benches,
    Faults,
    any_phase,
    random_boxes,
    said_standards,
)
from tests.independent_bench.held import FREQUENCY_HZ
from tests.independent_bench.one_port import by_cross_ratio, in_series, seen_through
from tests.independent_bench.program import KIT, calibration_of

HERE = Path(__file__).parent
KNOWS_NOTHING = ("one_port.py", "bench.py")
MAY_IMPORT = ("__future__", "dataclasses", "numpy", "tests.independent_bench")


@pytest.mark.parametrize("name", KNOWS_NOTHING)
def test_the_bench_shares_no_code_with_the_program(name: str) -> None:
    tree = ast.parse((HERE / name).read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            assert all(each.name == "numpy" for each in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0
            assert str(node.module).startswith(MAY_IMPORT)
            if str(node.module).startswith("tests."):
                assert f"{str(node.module).rsplit('.', 1)[-1]}.py" in KNOWS_NOTHING


# ED, ES, ER and what raw open, short, load and a device of .2 at 40 degrees read
# [run: scikit-rf 2.2.0 and plain numpy agree].
NEAR, FAR, THROUGH = (np.array([each]) for each in (0.06 - 0.05j, 0.10 + 0.08j, 0.85 - 0.20j))
RAW = {
    1.0: 1.016638902 - 0.187187653j,
    -1.0: -0.695508057 + 0.186764222j,
    0.0: 0.06 - 0.05j,
    0.153208889 + 0.128557522j: 0.214635193 + 0.032933061j,
}


def test_the_wave_chain_and_the_cross_ratio_give_the_known_vector() -> None:
    for true, raw in RAW.items():
        assert seen_through(NEAR, FAR, THROUGH, np.array([true]))[0] == pytest.approx(raw, abs=1e-8)
    *three, device = (np.array([each]) for each in RAW.values())
    *known, true_device = (np.array([complex(each)]) for each in RAW)
    found = by_cross_ratio(device, tuple(three), tuple(known))
    assert found[0] == pytest.approx(true_device[0], abs=1e-8)


def test_a_short_behind_an_inductor_is_what_a_handbook_says() -> None:
    """(Z - 50)/(Z + 50) of j 16.34 ohm, 1 nH at 2.6 GHz [derived]; an open stays an open."""
    ohm = 2j * np.pi * 2.6e9 * 1e-9
    found = in_series(np.array([-1.0 + 0j, 1.0 + 0j]), np.array([ohm, ohm]))
    assert found[0] == pytest.approx((ohm - 50) / (ohm + 50))
    assert found[1] == 1


def test_bench_and_program_mean_the_same_standards_and_correct_alike() -> None:
    rng = np.random.default_rng(3)
    for name, said in said_standards(FREQUENCY_HZ).items():
        np.testing.assert_allclose(KIT.standards[name].reflection(FREQUENCY_HZ), said, atol=1e-12)
    benches = Benches.calibrated(
        Faults(26.0), FREQUENCY_HZ, random_boxes(rng, 3, FREQUENCY_HZ), rng, 3
    )
    raw = benches.raw_of(0.4 * any_phase(rng, 3) * np.ones(FREQUENCY_HZ.size))
    for number, own in enumerate(benches.corrected(raw)):
        terms = calibration_of(benches, number).terms
        np.testing.assert_allclose(correct(terms, raw[number]), own, atol=1e-12)
