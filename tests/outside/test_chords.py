"""Qualities, Harte labels and people's symbols against mir_eval, pychord and music21.

Sources: mir_eval.chord (templates and Harte syntax after Harte et al., ISMIR 2005), with
reduce_extended_chords, without which it leaves ninths out; pychord's list of qualities as people write them;
music21.harmony for MusicXML kinds.
"""

import re

import mir_eval.chord
import numpy as np
import pychord
import pytest
from music21 import harmony
from pychord.constants.qualities import DEFAULT_QUALITIES

from studio.theory import QUALITIES, Chord, ChordSymbolError, Note, read_harte, read_symbol

ROOTS = [letter + sign for letter in "ABCDEFG" for sign in ("", "#", "b")]
# mir_eval spells its pitch classes with these (its pitch_class_to_semitone reads all of ours)
PUBLISHED = {  # FACTS.md section 2: semitones above the root (published: mir_eval after Harte et al.)
    "major": {0, 4, 7}, "minor": {0, 3, 7}, "aug": {0, 4, 8}, "dim": {0, 3, 6}, "sus2": {0, 2, 7}, "sus4": {0, 5, 7},
    "5": {0, 7}, "7": {0, 4, 7, 10}, "maj7": {0, 4, 7, 11}, "m7": {0, 3, 7, 10}, "mmaj7": {0, 3, 7, 11},
    "6": {0, 4, 7, 9}, "m6": {0, 3, 7, 9}, "dim7": {0, 3, 6, 9}, "m7b5": {0, 3, 6, 10},
}  # fmt: skip


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_interval_sets(name):
    assert QUALITIES[name].semitones == PUBLISHED[name]


def heard(label):
    """mir_eval's (root, pitch classes above it, bass above it) for a Harte label."""
    root, bitmap, bass = mir_eval.chord.encode(label, reduce_extended_chords=True)
    return root, {int(place) for place in np.flatnonzero(bitmap)}, bass


@pytest.mark.parametrize("name", QUALITIES)
def test_harte_labels_mean_the_same_to_mir_eval(name):
    for root in ROOTS:
        chord = Chord.of(root, name)
        pitch_class, semitones, _ = heard(chord.harte)
        assert pitch_class == Note(root).pitch_class
        assert semitones == QUALITIES[name].semitones


def test_inversions_mean_the_same_to_mir_eval():
    checked = 0
    for name in QUALITIES:
        for tone in Chord.of("Ab", name).tones[1:]:
            chord = Chord.of("Ab", name, tone)
            assert heard(chord.harte)[2] == (tone.pitch_class - chord.root.pitch_class) % 12
            assert mir_eval.chord.split(chord.harte)[0] == "Ab"
            checked += 1
    assert checked > 60


# labels of Harte syntax that people's symbols never take
LABELS = ["C", "E:(3,5)", "G:(b3,5)", "A:7(*5,5)", "B:min7/b7", "F#:maj/5", "Bb:hdim7/b3", "Db:sus4(b7)/4", "C:maj(*3)"]


@pytest.mark.parametrize("label", LABELS)
def test_labels_read_as_mir_eval_reads_them(label):
    chord = read_harte(label)
    root, semitones, bass = heard(label)
    assert chord.root.pitch_class == root
    assert QUALITIES[chord.quality].semitones == semitones
    assert ((chord.bass or chord.root).pitch_class - root) % 12 == bass


# Suffixes of pychord's that are no quality here: omitted fifths, flat or sharp fifths on chords that the
# trade does not alter, added fourths and elevenths, elevenths and thirteenths, ninths altered twice.
UNREAD = re.compile(r"no5|omit5|^\(b5\)|^6?[-b]5|^m7[+#]5|7\+5$|[adM]?4$|11|13|sus4add|9sus|^m69|9[-+b#]|7[b#]9|m7b9")


def test_symbols_mean_the_same_to_pychord():
    read = 0
    for suffix, _ in DEFAULT_QUALITIES:
        try:
            chord = read_symbol("C" + suffix)
        except ChordSymbolError:
            assert UNREAD.search(suffix), suffix
            continue
        components = {Note(name).pitch_class for name in pychord.Chord("C" + suffix).components()}
        assert chord.pitch_classes == components, suffix
        read += 1
    assert read >= 42


PLAIN_KINDS = [entry for entry in QUALITIES.values() if not entry.kind_degrees]  # the others: test_musicxml


@pytest.mark.parametrize("entry", PLAIN_KINDS, ids=lambda entry: entry.id)
def test_musicxml_kinds_mean_the_same_to_music21(entry):
    # music21 keeps the standard's kind-value, under the older name "minor-major-seventh" for major-minor
    kind = harmony.CHORD_ALIASES.get(entry.kind, entry.kind)
    symbol = harmony.ChordSymbol(root="C", kind=kind)
    assert {pitch.pitchClass for pitch in symbol.pitches} == entry.semitones
    assert [pitch.name.replace("-", "b") for pitch in symbol.pitches] == [
        str(note) for note in Chord.of("C", entry.id).tones
    ]
