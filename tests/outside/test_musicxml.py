"""MusicXML: the standard's own frame examples, music21 as a reader, and the standard's schema for the order
of elements.

Sources: W3C Music Notation Community Group, MusicXML 4.0, frame and barre examples as FACTS.md section 2
records them (published); music21's MusicXML reader; the MusicXML schema that music21 carries (version 2.0,
whose harmony, frame and note the later versions kept, from memory).
"""

import xml.etree.ElementTree as ET
from pathlib import Path

import music21
import pytest
from music21 import chord, converter, harmony

from studio.theory import INSTRUMENTS, SHAPES, place
from studio.theory.musicxml import harmony_xml, sheet_xml

XS = "{http://www.w3.org/2001/XMLSchema}"
VOICINGS = [
    place(shape.id, root, "electric")
    for shape in SHAPES.values()
    for root in (("C", "F#", "Bb") if shape.moves else (None,))
]


def frame_notes(voicing, fingering):
    frame = ET.fromstring(harmony_xml(voicing, fingering=fingering)).find("frame")
    return [[(part.tag, part.text or part.get("type")) for part in note] for note in frame.iter("frame-note")]


def test_the_standards_barre_example():
    # A major at 12: 5:12 barre start, 4:14 barre start, 3:14, 2:14 barre stop, 1:12 barre stop, 6 unplayed
    voicing = place("A-major-partial-full", "A", position=12)
    assert frame_notes(voicing, fingering=False) == [
        [("string", "5"), ("fret", "12"), ("barre", "start")],
        [("string", "4"), ("fret", "14"), ("barre", "start")],
        [("string", "3"), ("fret", "14")],
        [("string", "2"), ("fret", "14"), ("barre", "stop")],
        [("string", "1"), ("fret", "12"), ("barre", "stop")],
    ]


def test_the_standards_open_a_example():
    # Open A: 5:0, 4:2 finger 2, 3:2 finger 3, 2:2 finger 4, 1:0
    assert frame_notes(place("open-A-no-index"), fingering=True) == [
        [("string", "5"), ("fret", "0")],
        [("string", "4"), ("fret", "2"), ("fingering", "2")],
        [("string", "3"), ("fret", "2"), ("fingering", "3")],
        [("string", "2"), ("fret", "2"), ("fingering", "4")],
        [("string", "1"), ("fret", "0")],
    ]


@pytest.mark.parametrize("capo", [0, 3])
def test_music21_reads_back_the_same_pitches(capo):
    neck = INSTRUMENTS["electric"].with_(capo=capo)
    voicings = [place(v.shape, v.root, neck, v.position) for v in VOICINGS if v.highest_fret <= 12]
    score = converter.parse(sheet_xml("Goals", [("The week", voicings)], key="Eb"), format="musicxml")
    heard = [c for c in score.recurse().notes if isinstance(c, chord.Chord) and not isinstance(c, harmony.ChordSymbol)]
    assert len(heard) == len(voicings) > 100
    for found, voicing in zip(heard, voicings, strict=True):
        assert sorted(p.midi for p in found.pitches) == sorted(voicing.midi)
        names = [str(note) for note in voicing.sounding_notes if note is not None]
        assert sorted(p.name.replace("-", "b") for p in found.pitches) == sorted(names)


def test_music21_reads_back_root_kind_and_bass():
    score = converter.parse(sheet_xml("Goals", [("", VOICINGS)]), format="musicxml")
    symbols = list(score.recurse().getElementsByClass(harmony.ChordSymbol))
    assert len(symbols) == len(VOICINGS)
    for symbol, voicing in zip(symbols, VOICINGS, strict=True):
        assert symbol.root().name.replace("-", "b") == str(voicing.root)
        assert symbol.bass().name.replace("-", "b") == str(voicing.bass)
        # the whole chord of the kind, also where the voicing leaves a fifth out
        expected = {voicing.root.degree(degree).pitch_class for degree in voicing.degrees if degree}
        assert {pitch.pitchClass for pitch in symbol.pitches} >= expected


def schema_order():
    """complexType or group -> the names of its elements in the order of the schema."""
    schema = ET.parse(Path(music21.__file__).parent / "musicxml" / "musicxml.xsd").getroot()
    groups = {g.get("name"): g for g in schema.iter(XS + "group") if g.get("name")}

    def names(node):
        for child in node:
            if child.tag == XS + "element":
                yield child.get("name")
            elif child.tag == XS + "group" and child.get("ref"):
                yield from names(groups[child.get("ref")])
            elif child.tag in (XS + "sequence", XS + "choice"):
                yield from names(child)

    types = {t.get("name"): list(names(t)) for t in schema.iter(XS + "complexType") if t.get("name")}
    return {name: types[name] for name in ("harmony", "frame", "frame-note", "attributes", "note", "degree", "clef")}


def test_elements_stand_in_the_schemas_order():
    order = schema_order()
    text = sheet_xml("Goals", [("Words", VOICINGS)], key="A minor", metre="6/8")
    score = ET.fromstring(text.split("\n", 2)[2])
    checked = 0
    for element in score.iter():
        allowed = order.get(element.tag)
        if allowed:
            places = [allowed.index(child.tag) for child in element]
            assert places == sorted(places), element.tag
            checked += 1
    assert checked > 500
