"""The catalogue: complete, playable, derived from open forms; and what other tunings do to it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory import SHAPES, ShapeError, find_shape, read_tuning, shapes_of, survives
from studio.theory.chords import QUALITIES
from studio.theory.instrument import STANDARD
from studio.theory.pitch import DEGREES
from studio.theory.shapes import Barre, broken_strings, find_barres, fit, quality_degrees

FORMS = [
    pytest.param(shape, form, id=f"{shape.id}-{where}")
    for shape in SHAPES.values()
    for where, form in (("nut", shape.open_form), ("moved", shape.moved_form))
    if form is not None
]
MOVABLE = [shape for shape in SHAPES.values() if shape.kind == "movable"]
# The trade's movable form where the open one needs five fingers or an open string (common practice, no source).
NOT_LITERAL = {"E-6", "A-m6", "A-dim7", "C-7"}


def text(columns):
    return "".join("x" if value is None else str(value) for value in columns)


def test_the_catalogue_has_what_the_trade_teaches():
    wanted = {f"{family}-{quality}" for family in "CAGED" for quality in ("major", "minor")}
    wanted |= {f"{f}-{q}" for f in "EA" for q in ("7", "m7", "maj7", "sus4", "7sus4", "6", "m6", "5", "aug")}
    wanted |= {"A-sus2", "A-major-partial", "A-dim", "D-dim"}
    wanted |= {f"{family}-{quality}" for family in "AD" for quality in ("m7b5", "dim7")}
    wanted |= {
        f"open-{name}" for name in ("C", "A", "G", "E", "D", "Am", "Em", "Dm", "E7", "A7", "D7", "G7", "C7", "B7")
    }
    wanted |= {f"small-{name}" for name in ("G", "C", "D", "G7", "F", "Bm")}
    assert wanted <= set(SHAPES)


@pytest.mark.parametrize("shape", SHAPES.values(), ids=lambda shape: shape.id)
def test_ids_and_words(shape):
    assert SHAPES[shape.id] is shape
    assert shape.kind in ("movable", "open", "small")
    assert shape.quality in QUALITIES
    if shape.kind == "movable":
        assert shape.id.startswith(f"{shape.family}-{shape.quality}")
        assert shape.name.startswith(f"{shape.family}-shape")
        assert (
            (shape.id == f"{shape.family}-{shape.quality}")
            or shape.variant
            or "fourth-finger" in shape.id
            or (shape.id in ("C-major", "G-minor"))
        )
    else:
        assert shape.id.startswith(f"{shape.kind}-")
        assert shape.name.startswith(shape.kind)
    assert shape.origin.endswith(".")


@pytest.mark.parametrize(("shape", "form"), FORMS)
def test_every_form_can_be_held(shape, form):
    frets, fingers = form.frets, form.fingers
    assert len(frets) == len(fingers) == len(form.degrees) == 6
    at: dict[int, set[int]] = {}
    for fret, finger, degree in zip(frets, fingers, form.degrees, strict=True):
        assert (fret is None) == (finger is None) == (degree is None)
        if finger:
            at.setdefault(finger, set()).add(fret)
    assert all(len(where) == 1 for where in at.values())  # a finger presses one fret
    assert set(at) <= {1, 2, 3, 4}  # nobody has a fifth
    order = [min(at[finger]) for finger in sorted(at)]
    assert order == sorted(order)  # the index lies nearest the nut, the fourth finger nearest the body
    assert form.highest - min((f for f in frets if f), default=0) <= 3
    for barre in find_barres(frets, fingers):  # what lies under a barre cannot sound from behind it
        for index, fret in enumerate(frets):
            if barre.to_string <= 6 - index <= barre.from_string:
                assert fret is None or fret >= barre.fret


@pytest.mark.parametrize(("shape", "form"), FORMS)
def test_a_form_is_its_chord(shape, form):
    assert form.degrees[6 - form.root_string] == "1"
    sounded = {degree for degree in form.degrees if degree}
    assert sounded <= set(quality_degrees(shape.quality))
    assert set(quality_degrees(shape.quality)) - sounded <= {"5"}
    root = STANDARD[6 - form.root_string] + form.frets[6 - form.root_string]
    for midi, fret, degree in zip(STANDARD, form.frets, form.degrees, strict=True):
        if fret is not None:
            assert (midi + fret - root) % 12 == DEGREES[degree][1]


@pytest.mark.parametrize("shape", MOVABLE, ids=lambda shape: shape.id)
def test_moved_forms_come_from_open_forms_by_moving_the_nut(shape):
    assert 0 in shape.moved_frets  # the index in the nut's place
    index = [f for f, finger in zip(shape.moved_frets, shape.moved_fingers, strict=True) if finger == 1]
    assert set(index) == {0}
    assert all(finger != 0 for finger in shape.moved_fingers)  # nothing rings open once it has moved
    if shape.id not in NOT_LITERAL:
        assert shape.moved_frets == shape.open_frets
    else:
        assert "moves instead" in shape.origin or "no finger is left" in shape.origin


def test_the_forms_that_cannot_be_moved_literally():
    # Common practice, no source: these open forms moved would need more than four fingers or an open string.
    for name in NOT_LITERAL:
        frets = SHAPES[name].open_frets
        lowest_held = [f for f in frets if f == 0]
        others = sum(1 for f in frets if f)
        assert lowest_held
        assert others >= 4, name  # the index as nut and four more


@pytest.mark.parametrize(
    ("shape", "barres"),
    [
        ("E-major", (Barre(1, 6, 1, 0),)),
        ("A-minor", (Barre(1, 5, 1, 0),)),
        ("A-major-partial", (Barre(3, 4, 2, 2),)),
        ("A-7-fourth-finger", (Barre(3, 4, 2, 2),)),
        ("C-major", (Barre(1, 3, 1, 0),)),
        ("G-major", (Barre(1, 4, 2, 0),)),
        ("D-major", ()),
        ("small-F", (Barre(1, 2, 1, 0),)),
        ("E-5", ()),
    ],
)
def test_barres(shape, barres):
    assert SHAPES[shape].barres == barres


def test_what_counts_as_a_barre_chord():
    assert SHAPES["E-major"].has_barre
    assert not SHAPES["E-major"].has_partial_barre
    assert not SHAPES["A-major-partial"].has_barre
    assert SHAPES["A-major-partial"].has_partial_barre
    assert not SHAPES["small-F"].has_barre
    assert not SHAPES["D-major"].has_barre


def test_root_strings():
    # Common practice, no source: E-shapes on the 6th string, A-shapes on the 5th, D-shapes on the 4th.
    for shape in MOVABLE:
        if shape.id != "G-major-inner":
            assert shape.root_string == {"E": 6, "A": 5, "C": 5, "G": 6, "D": 4}[shape.family]


def test_string_six_is_damped_in_every_a_shape():
    # Common practice, no source.
    assert all(shape.form.frets[0] is None for shape in MOVABLE if shape.family == "A")


@pytest.mark.parametrize(
    ("tuning", "shape", "alive"),
    [
        ("Eb Ab Db Gb Bb Eb", "E-major", True),
        ("D A D G B E", "E-major", False),
        ("D A D G B E", "E-5", False),
        ("D A D G B E", "A-major", True),
        ("D A D G B E", "D-major", True),
        ("D A D G B E", "G-major-inner", True),
        ("D G D G B D", "E-major", False),
        ("D G D G B D", "G-major-inner", False),  # the 5th string is lowered too
        ("D G D G B D", "small-D", False),
        ("D A D G A D", "A-5", True),
        ("D A D G A D", "A-major", False),
        ("B1 E2 A2 D3 G3 B3 E4", "E-major", True),
        ("D G B E", "D-major", True),
        ("D G B E", "E-major", False),
    ],
)
def test_which_shapes_survive_a_tuning(tuning, shape, alive):
    assert survives(shape, read_tuning(tuning)) is alive


@given(st.sampled_from(list(SHAPES)), st.integers(-5, 5))
def test_all_strings_moved_alike_keep_every_shape(shape, half_steps):
    tuning = tuple(midi + half_steps for midi in STANDARD)
    assert survives(shape, tuning)
    assert broken_strings(SHAPES[shape].form, tuning) == ()


@given(st.sampled_from(list(SHAPES)), st.tuples(*[st.integers(-4, 4)] * 6))
def test_a_surviving_shape_sounds_its_chord(shape, changes):
    tuning = tuple(midi + change for midi, change in zip(STANDARD, changes, strict=True))
    form = SHAPES[shape].form
    kept = fit(form, tuning)
    sounding = [(o + f) % 12 for o, f in zip(tuning, form.frets, strict=True) if f is not None]
    degrees = [DEGREES[d][1] for d in form.degrees if d]
    roots = {(pitch - degree) % 12 for pitch, degree in zip(sounding, degrees, strict=True)}
    assert (kept is not None) == (len(roots) == 1)
    if kept is None:
        broken = broken_strings(form, tuning)
        assert broken
        assert set(broken) <= set(form.sounding)
    else:
        assert roots == {kept.base}
        assert [midi % 12 for midi in kept.midi] == sounding


def test_shapes_of_a_quality():
    assert [shape.id for shape in shapes_of("dim7")] == ["A-dim7", "D-dim7"]
    assert all(shape.kind == "open" for shape in shapes_of("major", "open"))
    assert shapes_of("9") == ()
    with pytest.raises(ShapeError):
        shapes_of("majestic")


@pytest.mark.parametrize("wrong", ["E-maj", "", None, 3, [], "e-major"])
def test_unknown_shapes(wrong):
    with pytest.raises(ShapeError, match="no shape"):
        find_shape(wrong)


def test_a_near_miss_is_named():
    with pytest.raises(ShapeError, match=r"nearest are .*E-major"):
        find_shape("E-majr")


def test_the_catalogue_cannot_be_changed():
    with pytest.raises(TypeError):
        SHAPES["mine"] = SHAPES["E-major"]
