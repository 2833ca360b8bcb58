"""Placing: where, which notes, which way out; and every place of a chord."""

import dataclasses

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from studio.theory import (
    INSTRUMENTS,
    SHAPES,
    Hand,
    Note,
    NoteError,
    OffNeck,
    ShapeError,
    TheoryError,
    Voicing,
    grip_demand,
    place,
    places,
)
from studio.theory.pitch import DEGREES, MAJOR_ROOTS

STEEL = INSTRUMENTS["steel-string"]
ROOTS = [letter + sign for letter in "ABCDEFG" for sign in ("", "#", "b")]
TUNINGS = ["E A D G B E", "Eb Ab Db Gb Bb Eb", "D A D G B E", "D A D G A D", "D G D G B D", "B E A D G B E", "D G B E"]
instruments = st.builds(
    lambda preset, tuning, capo: INSTRUMENTS[preset].with_(tuning=tuning, capo=capo),
    st.sampled_from(sorted(INSTRUMENTS)),
    st.sampled_from(TUNINGS),
    st.integers(0, 5),
)


def frets(voicing):
    return "".join("x" if fret is None else f"({fret})" if fret > 9 else str(fret) for fret in voicing.frets)


def test_b_minor_in_two_places():
    # Common practice, no source.
    low, high = place("A-minor", "B"), place("E-minor", "B")
    assert (frets(low), low.position, low.fingers) == ("x24432", 2, (None, 1, 3, 4, 2, 1))
    assert (frets(high), high.position, high.fingers) == ("799777", 7, (1, 3, 4, 1, 1, 1))
    assert low.symbol == high.symbol == "Bm"
    assert [str(note) for note in high.notes] == ["B", "F#", "B", "D", "F#", "B"]
    assert high.midi == (47, 54, 59, 62, 66, 71)
    assert high.quality == "minor"
    assert high.root == Note("B")
    assert high.strings_sounding == 6
    assert (low.title, high.title) == ("Bm, A-shape at 2", "Bm, E-shape at 7")
    assert high.barres[0] == (1, 6, 1, 7)
    assert (low.root_string, high.root_string) == (5, 6)
    assert str(low.bass) == "B"


def test_position_zero_is_the_open_form():
    voicing = place("E-major", "E", position=0)
    assert (frets(voicing), voicing.fingers, voicing.position) == ("022100", (0, 2, 3, 1, 0, 0), 0)
    assert voicing.title == "E, open"
    assert not voicing.barres
    assert place("E-major", "E").position == 12  # none asked: the lowest of 1 or higher


@pytest.mark.parametrize(
    ("shape", "root", "title"),
    [
        ("open-C", None, "C, open"),
        ("open-E-no-index", "E", "E, open (without the index)"),
        ("small-F", None, "F, small form"),
        ("small-F", "G", "G, small F form at 3"),
        ("A-major-partial", "B", "B, A-shape at 2 (partial barre)"),
        ("A-dim7", "C", "Cdim7, A-shape at 2"),
        ("E-5", "F#", "F#5, E-shape at 2"),
    ],
)
def test_titles(shape, root, title):
    assert place(shape, root).title == str(place(shape, root)) == title


def check_way_out(error, shape, root, neck):
    """The way out can be taken, and is the same chord."""
    if error.instead is not None:
        other = place(error.instead[0], error.instead[1], neck, error.instead[2])
        assert other.root.pitch_class == Note(root).pitch_class
        assert other.quality == SHAPES[shape].quality
        assert other.title in error.way_out
        assert error.way_out in str(error)


@given(st.sampled_from(list(SHAPES)), st.sampled_from(ROOTS), instruments, st.one_of(st.none(), st.integers(0, 24)))
def test_what_is_placed_is_consistent(shape, root, neck, position):
    try:
        voicing = place(shape, root, neck, position)
    except OffNeck as error:
        check_way_out(error, shape, root, neck)
        return
    assert len(voicing.frets) == len(voicing.fingers) == len(voicing.notes) == neck.strings
    assert position is None or voicing.position == position
    sounding = [
        (neck.tuning[i] + neck.capo + fret, voicing.notes[i], voicing.degrees[i], voicing.frets[i], voicing.fingers[i])
        for i, fret in enumerate(voicing.frets)
        if fret is not None
    ]
    assert tuple(midi for midi, *_ in sounding) == voicing.midi
    for midi, note, degree, fret, finger in sounding:
        assert 0 <= fret <= neck.last_fret
        assert note.pitch_class == (midi - neck.capo) % 12  # named as fingered, heard with the capo
        assert note == voicing.root.degree(degree)
        assert (finger == 0) == (fret == 0)
    assert str(voicing.root) == root
    assert voicing.notes[-voicing.root_string] == voicing.root
    heard = [note.midi for note in voicing.sounding_notes if note]
    assert heard == list(voicing.midi)
    index = {fret for *_, fret, finger in sounding if finger == 1}
    assert not index or voicing.position == 0 or index == {voicing.position}
    assert {barre.finger for barre in voicing.barres} <= set(voicing.pressed)


@given(st.sampled_from([s.id for s in SHAPES.values() if s.moves]), st.sampled_from(ROOTS))
def test_twelve_frets_up_is_the_same_chord_an_octave_up(shape, root):
    neck = INSTRUMENTS["electric"].with_(frets=24)
    lows = [p for p in places(root, SHAPES[shape].quality, neck) if p.voicing.shape == shape and 1 <= p.position <= 9]
    for low in lows:
        high = place(shape, root, neck, low.position + 12)
        assert high.notes == low.voicing.notes
        assert high.midi == tuple(midi + 12 for midi in low.voicing.midi)


@given(st.sampled_from([s.id for s in SHAPES.values() if s.kind == "movable"]), st.sampled_from(ROOTS))
def test_no_position_asked_takes_the_lowest(shape, root):
    neck = INSTRUMENTS["electric"].with_(frets=24)
    voicing = place(shape, root, neck)
    assert 1 <= voicing.position <= 12
    for lower in range(1, voicing.position):
        with pytest.raises(OffNeck):
            place(shape, root, neck, lower)


@given(st.sampled_from(list(SHAPES)), st.sampled_from(ROOTS), st.integers(1, 5))
def test_a_capo_moves_the_sound_and_not_the_grip(shape, root, capo):
    neck = INSTRUMENTS["electric"]
    try:
        bare, held = place(shape, root, neck), place(shape, root, neck.with_(capo=capo))
    except OffNeck:
        return
    assert (bare.frets, bare.fingers, bare.notes, bare.symbol) == (held.frets, held.fingers, held.notes, held.symbol)
    assert held.midi == tuple(midi + capo for midi in bare.midi)
    assert held.sounding_root.pitch_class == (bare.root.pitch_class + capo) % 12


def test_sounding_names_with_a_capo():
    voicing = place("open-C", None, STEEL.with_(capo=2))
    assert (voicing.symbol, voicing.sounding_symbol) == ("C", "D")
    assert [note.full for note in voicing.sounding_notes if note] == ["D3", "F#3", "A3", "D4", "F#4"]
    assert place("open-Am", None, STEEL.with_(capo=4)).sounding_symbol == "C#m"


def test_another_tuning_sounds_what_it_says():
    half_down = STEEL.with_(tuning="Eb Ab Db Gb Bb Eb")
    assert place("E-major", "B", half_down).position == 8  # one fret higher for the same B
    assert place("E-major", "B", half_down).midi == place("E-major", "B").midi
    assert place("open-C", None, half_down).symbol == "B"
    with pytest.raises(OffNeck, match="it gives B, never C"):
        place("open-C", "C", half_down)


def test_seven_strings_leave_the_seventh_alone():
    seven = STEEL.with_(tuning="B E A D G B E")
    voicing = place("E-major", "G", seven)
    assert frets(voicing) == "x355433"
    assert voicing.root_string == 6


def test_left_handed_playing_changes_no_note():
    assert place("E-major", "G", STEEL.with_(plays="left")).midi == place("E-major", "G").midi


@pytest.mark.parametrize(
    ("asked", "code", "reason", "instead"),
    [
        (("E-major", "E", STEEL.with_(frets=12)), "past-last-fret", "this neck ends at 12", ("E-major", "E", 0)),
        (("open-C", "D"), "open-form", "it gives C, never D", ("open-D", "D", 0)),
        (("open-C", "C", STEEL, 3), "open-form", "cannot move to fret 3", ("open-C", "C", 0)),
        (("E-major", "B", STEEL, 5), "position-root", "at fret 5 is A; B is at fret 7", ("E-major", "B", 7)),
        (("E-major", "B", STEEL, 0), "open-form", "gives E, not B", ("E-major", "B", 7)),
        (("E-major", "D", STEEL, 22), "past-last-fret", "reaches fret 24", ("E-major", "D", 10)),
        (
            ("E-major", "B", STEEL.with_(tuning="D A D G B E")),
            "tuning-breaks-shape",
            "uses the 6th string, now D",
            ("A-major", "B", 2),
        ),
        (("E-major", "B", STEEL.with_(tuning="D G B E")), "tuning-breaks-shape", "which this instrument lacks", None),
    ],
)
def test_why_not_and_the_nearest_way_out(asked, code, reason, instead):
    with pytest.raises(OffNeck) as caught:
        place(*asked)
    error = caught.value
    assert error.code == code
    assert reason in error.reason
    if instead:
        assert error.instead == instead


@pytest.mark.parametrize(
    ("asked", "kind"),
    [
        (("E-major", "H"), NoteError),
        (("E-major", "B", STEEL, -1), ShapeError),
        (("E-major", "B", STEEL, 25), ShapeError),
        (("E-major", "B", STEEL, 7.0), ShapeError),
        (("E-major", "B", STEEL, True), ShapeError),
        (("E-maj", "B"), ShapeError),
        (("E-major",), ShapeError),
        (("E-major", "B", "lute"), TheoryError),
        (("E-major", "Bm"), NoteError),
    ],
)
def test_questions_that_make_no_sense(asked, kind):
    with pytest.raises(kind) as caught:
        place(*asked)
    assert not isinstance(caught.value, OffNeck)


def test_a_root_with_octave_is_taken_by_its_name():
    assert place("E-major", Note("B3")) == place("E-major", "B")


def test_a_voicing_is_a_frozen_value():
    voicing = place("E-major", "B")
    assert voicing == place("E-major", "B")
    assert hash(voicing) == hash(place("E-major", "B"))
    with pytest.raises(dataclasses.FrozenInstanceError):
        voicing.position = 3


@given(st.sampled_from(MAJOR_ROOTS), st.sampled_from(["major", "minor", "7", "m7", "maj7", "dim7", "5"]), instruments)
def test_places_lists_every_place_once(root, quality, neck):
    found = places(root, quality, neck)
    assert len({(p.voicing.frets, p.voicing.fingers) for p in found}) == len(found)
    assert [p.position for p in found] == sorted(p.position for p in found)
    for item in found:
        voicing = item.voicing
        assert voicing.quality == quality
        assert place(voicing.shape, root, neck, item.position) == voicing
        wanted = {(Note(root).pitch_class + DEGREES[d][1] + neck.capo) % 12 for d in voicing.degrees if d}
        assert {midi % 12 for midi in voicing.midi} == wanted
        assert item.stretch_frets == max(f for f in voicing.frets if f is not None) - voicing.lowest_fret
        assert item.demand == grip_demand(voicing)
        assert item.past_joint == (item.position > neck.easy_fret)
    grips = {(p.voicing.frets, p.voicing.fingers) for p in found}
    for shape in SHAPES.values():  # nothing that can be placed is missing
        if shape.quality == quality:
            for position in [0, *range(1, neck.last_fret + 1)]:
                try:
                    voicing = place(shape.id, root, neck, position)
                except OffNeck:
                    continue
                if position or shape.open_form:
                    assert (voicing.frets, voicing.fingers) in grips, voicing


def test_places_of_c_major():
    titles = [p.voicing.title for p in places("C", "major")]
    # Common practice, no source: C, A, G, E, D follow each other up the neck.
    wanted = [
        "C, open",
        "C, A-shape at 3",
        "C, G-shape at 5",
        "C, E-shape at 8",
        "C, D-shape at 10",
        "C, C-shape at 12",
    ]
    assert [title for title in titles if title in wanted] == wanted


def test_places_for_a_hand():
    small = {p.voicing.title: p.demand.total for p in places("C", "major", STEEL, Hand("small"))}
    large = {p.voicing.title: p.demand.terms["stretch"] for p in places("C", "major", STEEL, Hand("large"))}
    assert set(small) == set(large)


def test_places_of_a_chord_that_no_shape_gives():
    assert places("C", "9") == ()
    with pytest.raises(ShapeError):
        places("C", "majestic")


anything = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=10), st.lists(st.integers())
)


@given(
    st.one_of(anything, st.sampled_from(list(SHAPES))),
    st.one_of(anything, st.sampled_from(ROOTS)),
    st.one_of(instruments, anything),
    anything,
)
def test_a_voicing_or_a_theory_error(shape, root, neck, position):
    try:
        voicing = place(shape, root, neck, position)
    except TheoryError:
        return
    assert isinstance(voicing, Voicing)


@given(anything, anything, anything)
def test_places_or_a_theory_error(root, quality, neck):
    assume(not (isinstance(root, str) and isinstance(quality, str)))
    with pytest.raises(TheoryError):
        places(root, quality, neck)
