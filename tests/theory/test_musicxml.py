"""MusicXML written here: well-formed, in the standard's order, one frame for each voicing."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory.chords import QUALITIES, quality_of_kind
from studio.theory.errors import TheoryError
from studio.theory.instrument import INSTRUMENTS
from studio.theory.musicxml import harmony_xml, sheet_xml
from studio.theory.shapes import SHAPES
from studio.theory.voicing import place

VOICINGS = [place(shape.id, "Bb" if shape.moves else None, "electric") for shape in SHAPES.values()]


@pytest.mark.parametrize("voicing", VOICINGS, ids=str)
def test_a_harmony_says_root_kind_and_every_string(voicing):
    harmony = ET.fromstring(harmony_xml(voicing))
    step, alter = harmony.findtext("root/root-step"), harmony.findtext("root/root-alter", "0")
    assert (step, int(alter)) == (voicing.root.letter, voicing.root.accidental)
    degrees = [
        (int(d.findtext("degree-value")), int(d.findtext("degree-alter")), d.findtext("degree-type"))
        for d in harmony.iter("degree")
    ]
    assert quality_of_kind(harmony.findtext("kind"), degrees).id == voicing.quality
    assert harmony.find("kind").get("text") == QUALITIES[voicing.quality].suffix
    frame = harmony.find("frame")
    written = {int(n.findtext("string")): int(n.findtext("fret")) for n in frame.iter("frame-note")}
    assert written == {6 - i: fret for i, fret in enumerate(voicing.frets) if fret is not None}
    fingers = {int(n.findtext("string")): int(n.findtext("fingering", "0")) for n in frame.iter("frame-note")}
    assert fingers == {6 - i: finger for i, finger in enumerate(voicing.fingers) if finger is not None}
    starts = [int(n.findtext("string")) for n in frame.iter("frame-note") if n.find("barre[@type='start']") is not None]
    stops = [int(n.findtext("string")) for n in frame.iter("frame-note") if n.find("barre[@type='stop']") is not None]
    assert sorted(starts) == sorted(barre.from_string for barre in voicing.barres)
    assert sorted(stops) == sorted(barre.to_string for barre in voicing.barres)
    first, rows = int(frame.findtext("first-fret", "1")), int(frame.findtext("frame-frets"))
    assert all(fret == 0 or first <= fret < first + rows for fret in written.values())
    assert harmony.find("bass") is None or voicing.bass != voicing.root


def test_a_frame_without_fingers():
    assert "fingering" not in harmony_xml(place("E-major", "G"), fingering=False)
    assert "barre" in harmony_xml(place("E-major", "G"), fingering=False)


def test_a_sheet_has_a_bar_for_each_voicing():
    text = sheet_xml(
        "Goals for the week", [("Small F", [place("small-F")]), ("", VOICINGS[:5])], key="D minor", metre="3/4"
    )
    score = ET.fromstring(text.split("\n", 2)[2])
    assert score.get("version") == "4.0"
    assert score.findtext("work/work-title") == "Goals for the week"
    measures = score.findall("part/measure")
    assert [m.get("number") for m in measures] == list("123456")
    assert [w.text for w in score.iter("words")] == ["Small F"]
    assert score.findtext(".//fifths") == "-1"
    assert {note.findtext("duration") for note in score.iter("note")} == {"12"}
    for measure, voicing in zip(measures, [place("small-F"), *VOICINGS[:5]], strict=True):
        assert len(measure.findall("note")) == len(voicing.midi)
        assert len(measure.findall("note/chord")) == len(voicing.midi) - 1


def test_a_capo_is_written_and_the_notes_sound_higher():
    capo = INSTRUMENTS["steel-string"].with_(capo=2)
    text = sheet_xml("With a capo", [("", [place("open-C", instrument=capo)])])
    score = ET.fromstring(text.split("\n", 2)[2])
    assert score.findtext(".//staff-details/capo") == "2"
    assert score.findtext(".//root-step") == "C"
    assert [n.findtext("pitch/step") for n in score.iter("note")] == ["D", "F", "A", "D", "F"]


@given(st.text(max_size=40), st.text(max_size=40))
def test_any_words_leave_the_document_well_formed(title, words):
    ET.fromstring(sheet_xml(title, [(words, VOICINGS[:1])]).split("\n", 2)[2])


@pytest.mark.parametrize("metre", ["", "4", "4/3", "0/4", "x/4", "33/4", "4/4/4", None, 4, "²/4"])
def test_other_metres_are_refused(metre):
    with pytest.raises(TheoryError):
        sheet_xml("x", [("", VOICINGS[:1])], metre=metre)


def test_sheets_that_make_no_sense_are_refused():
    with pytest.raises(TheoryError, match="at least one chord"):
        sheet_xml("x", [("words", [])])
    with pytest.raises(TheoryError, match="at most 512"):
        sheet_xml("x", [("", VOICINGS[:1] * 513)])
    with pytest.raises(TheoryError, match="one instrument"):
        sheet_xml("x", [("", [place("open-C"), place("open-C", instrument=INSTRUMENTS["classical"].with_(capo=1))])])
