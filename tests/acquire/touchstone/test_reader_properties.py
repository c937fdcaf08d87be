"""What must hold for any reading and any bytes."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from acquire.errors import TouchstoneError
from acquire.sweep import Reading
from acquire.touchstone.reader import parse_touchstone
from acquire.touchstone.writer import format_touchstone
from tests.counts import examples

parts = st.one_of(st.floats(-1.5, 1.5), st.just(float("nan")))
comments = st.lists(st.text(max_size=30), max_size=3)


@st.composite
def readings(draw):
    frequency = sorted(
        draw(st.sets(st.floats(0, 1e11, allow_subnormal=False), min_size=1, max_size=20)) | {1e6}
    )
    values = draw(
        st.lists(st.builds(complex, parts, parts), min_size=len(frequency), max_size=len(frequency))
    )
    return Reading(np.array(frequency), np.array(values))


@examples(100)
@given(reading=readings(), comments=comments)
def test_what_was_written_is_read_back_bit_for_bit(reading, comments):
    file = parse_touchstone(format_touchstone(reading, comments), "a.s1p")
    np.testing.assert_array_equal(file.reading.frequency_hz, reading.frequency_hz)
    measured = np.isfinite(reading.reflection)
    np.testing.assert_array_equal(np.isfinite(file.reading.reflection), measured)
    np.testing.assert_array_equal(file.reading.reflection[measured], reading.reflection[measured])


lines = st.lists(
    st.one_of(
        st.text(max_size=20),
        st.sampled_from(
            [
                "# MHz S RI R 50",
                "#",
                "# GHz Z DB R 75",
                "[Version] 2.0",
                "[Number of Ports] 2",
                "[Number of Ports] 1",
                "[Reference] 50",
                "[Matrix Format] Upper",
                "[Network Data]",
                "[Noise Data]",
                "[End]",
                "700 0.1 0",
                "800 0.1 0.2 ! note",
                "1e999 0 0",
                "1 2 3 4 5 6 7 8 9",
                "nan inf",
                "-inf",
            ]
        ),
    ),
    max_size=12,
)


@examples(150)
@given(content=st.one_of(st.binary(max_size=200), lines.map("\n".join)))
def test_any_content_gives_finite_or_unmeasured_values_or_a_refusal(content):
    outcome = _read(content)
    if isinstance(outcome, str):
        assert outcome.isprintable()
    else:
        assert np.isfinite(outcome.frequency_hz).all()
        assert not np.isinf(outcome.reflection).any()


def _read(content):
    try:
        return parse_touchstone(content, "any.s1p").reading
    except TouchstoneError as refusal:
        return str(refusal)


matrices = st.lists(
    st.builds(complex, st.floats(-0.45, 0.45), st.floats(-0.45, 0.45)), min_size=4, max_size=4
)


@pytest.mark.parametrize("kind", ["S", "Z", "Y", "H", "G"])
@pytest.mark.parametrize("version", ["1.1", "2.0"])
@examples(10)
@given(entries=matrices, ohm=st.sampled_from([50.0, 75.0, 12.5]))
def test_every_parameter_of_a_two_port_gives_scikit_rf_s_s11(kind, version, entries, ohm):
    # Oracle: scikit-rf 2.2's conversions of single matrices [run]. Its reader is none here: it
    # normalises Y, H and G as if they were impedances.
    scattering = np.array(entries).reshape(1, 2, 2)
    expected = skrf.network.renormalize_s(scattering, ohm, 50.0)[0, 0, 0]
    matrix = {
        "S": lambda: scattering,
        "Z": lambda: skrf.network.s2z(scattering, ohm),
        "Y": lambda: skrf.network.s2y(scattering, ohm),
        "H": lambda: skrf.network.s2h(scattering, ohm),
        "G": lambda: skrf.network.s2g(scattering, ohm),
    }[kind]()[0]
    if version == "1.1":
        matrix = (
            matrix
            * {
                "S": np.ones((2, 2)),
                "Z": np.full((2, 2), 1 / ohm),
                "Y": np.full((2, 2), ohm),
                "H": np.array([[1 / ohm, 1], [1, ohm]]),
                "G": np.array([[ohm, 1], [1, 1 / ohm]]),
            }[kind]
        )
    row = " ".join(
        f"{value.real!r} {value.imag!r}" for value in matrix.T.ravel().tolist()
    )  # column by column: 11 21 12 22
    head = f"# MHz {kind} RI R {ohm}\n"
    if version == "2.0":
        keywords = "[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Network Data]\n"
        head = f"[Version] 2.0\n{head}{keywords}"
    file = parse_touchstone(f"{head}700 {row}\n", "a.s2p")
    assert file.reading.reflection[0] == pytest.approx(expected, rel=1e-8, abs=1e-9)


def test_scikit_rf_reads_what_is_written(tmp_path):
    rng = np.random.default_rng(7)
    reading = Reading(
        np.linspace(600e6, 2.7e9, 201), 0.4 * (rng.normal(size=201) + 1j * rng.normal(size=201))
    )
    path = tmp_path / "a.s1p"
    path.write_text(format_touchstone(reading, ["invented data"]), encoding="ascii")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        network = skrf.Network(str(path))
    np.testing.assert_array_equal(network.f, reading.frequency_hz)
    np.testing.assert_array_equal(network.s[:, 0, 0], reading.reflection)
    assert (network.z0 == 50).all()
