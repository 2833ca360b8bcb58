from studio.theory.chords import (
    QUALITIES,
    Chord,
    ChordSymbolError,
    Quality,
    chord_symbol,
    chord_tones,
    common_root,
    read_chord,
    read_harte,
    read_symbol,
)
from studio.theory.diagram import describe, diagram_svg, fretboard_svg
from studio.theory.drill import count_up, mark, pick, questions, ready_for_twelve, root_frets, weights
from studio.theory.keys import KEYS, Key, KeyChord, KeyNameError, NumeralError

__all__ = [
    "KEYS",
    "QUALITIES",
    "Chord",
    "ChordSymbolError",
    "Key",
    "KeyChord",
    "KeyNameError",
    "NumeralError",
    "Quality",
    "chord_symbol",
    "chord_tones",
    "common_root",
    "count_up",
    "describe",
    "diagram_svg",
    "fretboard_svg",
    "mark",
    "pick",
    "questions",
    "read_chord",
    "read_harte",
    "read_symbol",
    "ready_for_twelve",
    "root_frets",
    "weights",
]
