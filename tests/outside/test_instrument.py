"""Necks against published tables."""

import math

import pytest

from studio.theory import INSTRUMENTS, fret_distance

# Published: stuphi.co.uk luthier notes, p. 18; scale 25.000 in, fret to bridge in inches.
FRET_TO_BRIDGE_IN = {
    0: 25.000,
    1: 23.597,
    2: 22.272,
    3: 21.022,
    4: 19.843,
    5: 18.729,
    6: 17.678,
    7: 16.685,
    8: 15.749,
    9: 14.865,
    10: 14.031,
}
MM = 25.4


@pytest.mark.parametrize(("fret", "to_bridge"), FRET_TO_BRIDGE_IN.items())
def test_published_fret_table(fret, to_bridge):
    scale = 25.000 * MM
    assert (scale - fret_distance(scale, fret)) / MM == pytest.approx(to_bridge, abs=0.0006)  # printed to 0.001


def test_the_luthiers_constant():
    """Published and derived: the first fret lies L / 17.817154 from the nut, not 17.835, not 18."""
    for scale in (530.0, 628.0, 648.0, 650.0):
        assert scale / fret_distance(scale, 1) == pytest.approx(17.817154, abs=5e-7)


@pytest.mark.parametrize(
    ("scale", "fret", "mm"),
    # Derived in the project's facts: nut to fret, mm.
    [(650, 1, 36.48), (650, 5, 163.05), (650, 7, 216.18), (650, 12, 325.00), (628, 1, 35.25), (628, 12, 314.00)],
)
def test_nut_to_fret(scale, fret, mm):
    assert fret_distance(scale, fret) == pytest.approx(mm, abs=0.005)


@pytest.mark.parametrize(
    ("fret", "mm"),
    # Derived in the project's facts: fret spaces of 648 mm.
    [(1, 36.37), (2, 34.33), (3, 32.40), (4, 30.58), (5, 28.87), (7, 25.72), (9, 22.91), (12, 19.27)],
)
def test_fret_spaces(fret, mm):
    assert INSTRUMENTS["steel-string"].fret_space_mm(fret) == pytest.approx(mm, abs=0.005)


# Scale length and body joint: published (steel-string, classical) or from memory (electric, children's).
@pytest.mark.parametrize(
    ("preset", "scale", "frets", "joint", "cutaway"),
    [
        ("classical", 650, 19, 12, False),
        ("steel-string", 648, 20, 14, False),
        ("electric", 648, 22, 16, True),
        ("three-quarter", 580, 18, 12, False),
        ("half-size", 530, 18, 12, False),
    ],
)
def test_presets(preset, scale, frets, joint, cutaway):
    guitar = INSTRUMENTS[preset]
    assert (guitar.scale_mm, guitar.frets, guitar.joint, guitar.cutaway) == (scale, frets, joint, cutaway)


def test_a_cutaway_keeps_frets_to_19_in_reach():
    """From memory."""
    assert INSTRUMENTS["electric"].easy_fret == 19
    assert INSTRUMENTS["steel-string"].easy_fret == 14


def test_octave_at_half_the_string():
    """Physics: half the string sounds the octave."""
    for guitar in INSTRUMENTS.values():
        assert math.isclose(guitar.fret_distance(12), guitar.scale_mm / 2)
