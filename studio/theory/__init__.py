"""The theory core of Ledgerline: movable chords, from a note name to a fingering that a hand can hold.

Pure Python on the standard library; plain values in, plain values out.  Every function raises a
`TheoryError` with a sentence a teacher understands, and nothing else, for bad input.
"""

from studio.theory.chords import (
    QUALITIES,
    Chord,
    ChordSymbolError,
    Quality,
    chord_symbol,
    chord_tones,
    common_root,
    quality_of_kind,
    read_chord,
    read_harte,
    read_symbol,
)
from studio.theory.demand import Demand, Hand, change_demand, crowded_fret, grip_demand, hand_travel_mm
from studio.theory.diagram import describe, diagram_svg, fretboard_svg
from studio.theory.drill import (
    Answer,
    Mark,
    Question,
    Walk,
    count_up,
    mark,
    pick,
    questions,
    ready_for_twelve,
    root_frets,
    weights,
)
from studio.theory.errors import GoalError, InstrumentError, NoteError, OffNeck, ShapeError, TheoryError
from studio.theory.findings import CODES, Context, Finding, WayOut, validate
from studio.theory.goal import ChordTerm, Goal
from studio.theory.instrument import (
    INSTRUMENTS,
    STRING,
    Instrument,
    fret_distance,
    read_instrument,
    read_tuning,
    standard_tuning,
)
from studio.theory.keys import KEYS, Key, KeyChord, KeyNameError, NumeralError
from studio.theory.musicxml import harmony_xml, sheet_xml
from studio.theory.naming import ChordName, name_frets, read_frets
from studio.theory.neck import Place, places
from studio.theory.pitch import DEGREES, Note, alphabet, common_note
from studio.theory.relations import Relation, relation
from studio.theory.route import NoRoute, Route, arrange, read_step
from studio.theory.shapes import SHAPES, Barre, Shape, find_shape, shapes_of, survives
from studio.theory.voicing import Voicing, place

__all__ = [
    "CODES",
    "DEGREES",
    "INSTRUMENTS",
    "KEYS",
    "QUALITIES",
    "SHAPES",
    "STRING",
    "Answer",
    "Barre",
    "Chord",
    "ChordName",
    "ChordSymbolError",
    "ChordTerm",
    "Context",
    "Demand",
    "Finding",
    "Goal",
    "GoalError",
    "Hand",
    "Instrument",
    "InstrumentError",
    "Key",
    "KeyChord",
    "KeyNameError",
    "Mark",
    "NoRoute",
    "Note",
    "NoteError",
    "NumeralError",
    "OffNeck",
    "Place",
    "Quality",
    "Question",
    "Relation",
    "Route",
    "Shape",
    "ShapeError",
    "TheoryError",
    "Voicing",
    "Walk",
    "WayOut",
    "alphabet",
    "arrange",
    "change_demand",
    "chord_symbol",
    "chord_tones",
    "common_note",
    "common_root",
    "count_up",
    "crowded_fret",
    "describe",
    "diagram_svg",
    "find_shape",
    "fret_distance",
    "fretboard_svg",
    "grip_demand",
    "hand_travel_mm",
    "harmony_xml",
    "mark",
    "name_frets",
    "pick",
    "place",
    "places",
    "quality_of_kind",
    "questions",
    "read_chord",
    "read_frets",
    "read_harte",
    "read_instrument",
    "read_step",
    "read_symbol",
    "read_tuning",
    "ready_for_twelve",
    "relation",
    "root_frets",
    "shapes_of",
    "sheet_xml",
    "standard_tuning",
    "survives",
    "validate",
    "weights",
]
