"""Every placed voicing at all twelve roots against outside references.

Sources: mir_eval's chord templates and Harte labels (after Harte et al., ISMIR 2005); music21 (spelling, root and
quality).  Neither knows guitars: they judge the notes that sound.
"""

from functools import lru_cache

import mir_eval.chord
import pytest
from music21 import chord, harmony

from studio.theory import INSTRUMENTS, SHAPES, Note, OffNeck, place
from studio.theory.pitch import MAJOR_ROOTS, MINOR_ROOTS
from studio.theory.voicing import positions

# our quality -> (Harte label of mir_eval, music21's chord kind, what music21's Chord hears or None)
# Harte writes 7sus4 as sus4(b7).  What music21 hears is left out where it names another root by its own rules: it
# stacks thirds, so C6 is Am7 to it, and sus chords have no thirds to stack.
REFERENCES = {
    "major": ("maj", "major", "major"),
    "minor": ("min", "minor", "minor"),
    "dim": ("dim", "diminished", "diminished"),
    "aug": ("aug", "augmented", "augmented"),
    "7": ("7", "dominant-seventh", "dominant seventh chord"),
    "m7": ("min7", "minor-seventh", "minor seventh chord"),
    "maj7": ("maj7", "major-seventh", "major seventh chord"),
    "m7b5": ("hdim7", "half-diminished-seventh", "half-diminished seventh chord"),
    "dim7": ("dim7", "diminished-seventh", "diminished seventh chord"),
    "sus2": ("sus2", "suspended-second", None),
    "sus4": ("sus4", "suspended-fourth", None),
    "7sus4": ("sus4(b7)", "suspended-fourth-seventh", None),
    "6": ("maj6", "major-sixth", None),
    "m6": ("min6", "minor-sixth", None),
    "5": ("5", "power", None),
}
# These leave out the fifth (common practice, no source); E-6 only where it is moved.
NO_FIFTH = {"C-7", "E-6", "open-C7", "small-G", "small-G7"}
STEEL = INSTRUMENTS["steel-string"]


def lacks_fifth(voicing):
    return voicing.shape in NO_FIFTH and not (voicing.shape == "E-6" and voicing.position == 0)


def everywhere():
    """Every shape x twelve roots x every fret that fits on a steel-string guitar."""
    for shape in SHAPES.values():
        minor = "b3" in shape.degrees
        for root in MINOR_ROOTS if minor else MAJOR_ROOTS:
            yield from positions(shape, Note(root), STEEL)


VOICINGS = list(everywhere())


def test_the_catalogue_is_walked_whole():
    assert {voicing.shape for voicing in VOICINGS} == set(SHAPES)
    assert {SHAPES[voicing.shape].quality for voicing in VOICINGS} == set(REFERENCES)
    moving = [shape.id for shape in SHAPES.values() if shape.moves]
    for shape_id in moving:  # each at all twelve roots
        assert len({v.root.pitch_class for v in VOICINGS if v.shape == shape_id}) == 12, shape_id


@lru_cache
def template(label):
    """mir_eval's pitch classes of a label, root included."""
    root, bitmap, _ = mir_eval.chord.encode(label)
    return frozenset((root + step) % 12 for step in range(12) if bitmap[step])


def test_pitch_classes_are_those_of_mir_eval():
    """Source: mir_eval.chord.encode; every voicing, sounding MIDI numbers against the template of root:quality."""
    assert len(VOICINGS) > 1000
    for voicing in VOICINGS:
        wanted = template(f"{voicing.root}:{REFERENCES[voicing.quality][0]}")
        heard = frozenset(midi % 12 for midi in voicing.midi)
        missing = {(voicing.root.pitch_class + 7) % 12} if lacks_fifth(voicing) else set()
        assert heard == wanted - missing, voicing


@lru_cache
def music21_names(root, kind):
    symbol = harmony.ChordSymbol(root=root.replace("b", "-"), kind=kind)
    return frozenset(pitch.name.replace("-", "b") for pitch in symbol.pitches)


def test_spelling_is_that_of_music21():
    """Source: music21.harmony.ChordSymbol; the names of the notes, letter by letter."""
    for voicing in VOICINGS:
        wanted = music21_names(str(voicing.root), REFERENCES[voicing.quality][1])
        missing = {str(voicing.root.degree("5"))} if lacks_fifth(voicing) else set()
        assert {str(note) for note in voicing.notes if note} == wanted - missing, voicing


@lru_cache
def music21_hears(names):
    heard = chord.Chord([name.replace("b", "-") for name in names])
    return heard.root().name.replace("-", "b"), heard


def test_root_and_quality_are_those_of_music21():
    """Source: music21.chord.Chord: root(), quality and, of sevenths, commonName, from the sounding pitches."""
    judged = 0
    for voicing in VOICINGS:
        expected = REFERENCES[voicing.quality][2]
        if expected is None or lacks_fifth(voicing):
            continue
        names = tuple(note.full for note in voicing.sounding_notes if note)
        assert [n.midi for n in voicing.sounding_notes if n] == list(voicing.midi)
        root, heard = music21_hears(names)
        if voicing.quality not in ("aug", "dim7"):  # symmetric: any tone may be the root, the name decides
            assert root == str(voicing.root), (voicing, root)
        assert (heard.commonName if expected.endswith("chord") else heard.quality) == expected, voicing
        judged += 1
    assert judged > 700


@pytest.mark.parametrize(
    ("shape", "root", "position"),
    # Common practice, no source: E-shape major is B at 7, A at 5, G at 3, F at 1; A-shape major D at 5, E at 7,
    # F at 8, G at 10; A-shape minor B minor at 2; dim7 with the index one below the root.
    [
        ("E-major", "B", 7),
        ("E-major", "A", 5),
        ("E-major", "G", 3),
        ("E-major", "F", 1),
        ("A-major", "D", 5),
        ("A-major", "E", 7),
        ("A-major", "F", 8),
        ("A-major", "G", 10),
        ("A-minor", "B", 2),
        ("C-major", "D", 2),
        ("G-major", "A", 2),
        ("D-major", "F", 3),
        ("A-dim7", "C", 2),
    ],
)
def test_positions_of_common_practice(shape, root, position):
    assert place(shape, root).position == position


@pytest.mark.parametrize(
    ("shape", "root", "frets"),
    # Common practice, no source; strings 6 to 1.
    [
        ("C-major", "D", "x54232"),
        ("G-major", "A", "542225"),
        ("D-major", "F", "xx3565"),
        ("A-major-partial", "B", "x2444x"),
        ("E-major", "F", "133211"),
        ("A-minor", "B", "x24432"),
        ("E-6", "G", "3x5453"),
        ("A-m6", "C", "x35x45"),
        ("A-dim7", "C", "x3424x"),
        ("small-G", None, "xxx003"),
        ("small-C", None, "xxx010"),
        ("small-D", None, "xxx232"),
        ("small-G7", None, "xxx001"),
        ("small-F", None, "xx3211"),
        ("small-Bm", None, "xx4432"),
    ],
)
def test_frets_of_common_practice(shape, root, frets):
    assert "".join("x" if fret is None else str(fret) for fret in place(shape, root).frets) == frets


# Common practice, no source: fingers, strings 6 to 1; 0 open, x damped.
FINGERINGS = {
    "E-major": "134211",
    "E-minor": "134111",
    "E-7": "131211",
    "E-m7": "131111",
    "A-major": "x12341",
    "A-major-partial": "x1333x",
    "A-minor": "x13421",
    "A-7": "x13141",
    "A-m7": "x13121",
    "A-maj7": "x13241",
    "open-E": "023100",
}


@pytest.mark.parametrize(("shape", "fingers"), FINGERINGS.items())
def test_fingerings_of_common_practice(shape, fingers):
    voicing = place(shape, None if shape.startswith("open") else "B")
    assert "".join("x" if finger is None else str(finger) for finger in voicing.fingers) == fingers


# The open forms from which the unsuffixed ids come, as the list of the trade's open chords has them
# (common practice, no source).
OPEN_FORMS = {
    "E-7": "020100",
    "E-m7": "020000",
    "E-maj7": "021100",
    "E-sus4": "022200",
    "E-7sus4": "020200",
    "A-7": "x02020",
    "A-m7": "x02010",
    "A-maj7": "x02120",
    "A-sus2": "x02200",
    "A-sus4": "x02230",
    "A-7sus4": "x02030",
    "E-6": "022120",
    "A-m6": "x02212",
    "A-dim7": "x01212",
}


@pytest.mark.parametrize(("shape", "frets"), OPEN_FORMS.items())
def test_open_form_of_a_movable_shape(shape, frets):
    voicing = place(shape, shape[0], position=0)
    assert "".join("x" if fret is None else str(fret) for fret in voicing.frets) == frets
    assert str(voicing.root) == shape[0]


def test_first_barre_chord_of_a_capo_player():
    """Common practice, no source: a capo at 1 makes an F of the open E without the index."""
    capo = STEEL.with_(capo=1)
    held = place("open-E-no-index", None, capo)
    assert held.midi == place("E-major", "F").midi
    assert (held.symbol, held.sounding_symbol) == ("E", "F")


def test_lowered_sixth_string_loses_the_e_shapes_and_keeps_the_a_shapes():
    """Common practice, no source: D A D G B E breaks what stands on the 6th string."""
    dropped = STEEL.with_(tuning="D A D G B E")
    for shape in SHAPES.values():
        if shape.kind != "movable":
            continue
        on_sixth = shape.form.frets[0] is not None
        if on_sixth:
            with pytest.raises(OffNeck, match="6th string, now D"):
                place(shape.id, "C", dropped)
        else:
            assert place(shape.id, "C", dropped).frets == place(shape.id, "C", STEEL).frets
