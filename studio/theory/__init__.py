"""The theory core of Ledgerline: movable chords, from a note name to a fingering that a hand can hold.

A small reference work for guitarists who program.  Pure Python on the standard library; plain values in, plain
values out; no clock, no files, no database.

The subject in a page
---------------------
**A string is a ruler.**  Each fret raises it a half step.  The natural notes lie two frets apart, except B to C
and E to F, which lie one apart; so one counts up any string: open E, F 1, G 3, A 5, B 7.

>>> count_up(6, "B").text
'open E, F 1, G 3, A 5, B 7'

**A movable shape is an open chord whose nut has become a finger.**  Play open E with the second, third and fourth
finger, slide it up, and lay the index where the nut was.  The form has not changed, so the quality has not; only
the root has, and it is read off one string: the 6th for shapes that come from open E (and G), the 5th for those
from A (and C), the 4th for those from D.  On E-, A- and D-shapes the index stands on the root's fret, so B with
the E-shape is at fret 7 and B minor with the A-shape at 2; on C- and G-shapes it stands three frets below.
`SHAPES` keeps one open form for each shape; no placement is typed in.

>>> b = place("E-major", "B")
>>> b.position, b.frets, b.fingers
(7, (7, 9, 9, 8, 7, 7), (1, 3, 4, 2, 1, 1))
>>> place("A-minor", "B").title
'Bm, A-shape at 2'

**Notes have names, not only pitches.**  The third of D-flat minor is F-flat and never E, because a third spans
three letters; a key writes each of its letters once.  So notes are spelled from their root, or by their key.

>>> [str(note) for note in chord_tones("Db", "minor")]
['Db', 'Fb', 'Ab']
>>> [str(note) for note in Key("F#").scale]
['F#', 'G#', 'A#', 'B', 'C#', 'D#', 'E#']

**A chord lives in several places, and a grip has several names.**  `places` lists every place of a chord on a
neck; `name_frets` goes the other way, and gives every reading, best first.

>>> [lives.voicing.title for lives in places("B", "minor")][:3]
['Bm, small form', 'Bm, A-shape at 2', 'Bm, G-shape at 4 (strings 6 to 3)']
>>> [name.symbol for name in name_frets("x32213")]
['C6', 'Am7/C']

**Some grips ask more of a hand than others.**  `grip_demand` says how much as named terms that add up, in the
unit of one more finger to press.  It orders grips as teachers do, and measures nothing.

>>> ladder = [place("open-Em"), place("open-E"), place("small-F"), place("E-major", "F")]
>>> demands = [grip_demand(voicing).total for voicing in ladder]
>>> demands == sorted(demands)
True
>>> relation("E-major", "A-minor").text
'E-shape major moved one string over is A-shape minor.'

**A progression is a way along the neck.**  Numerals count from the key's first note; capitals are major, small
letters minor, `b` and `#` move them, so that I bVII IV can be typed.  `arrange` finds the ways that ask least,
all over the neck or between two frets.

>>> way = arrange(["I", "bVII", "IV"], "A", ["E-major", "A-major"], window=(1, 7))[0]
>>> [voicing.title for voicing in way.voicings]
['A, E-shape at 5', 'G, E-shape at 3', 'D, A-shape at 5']

**A goal is checked before it is set.**  `validate` answers with findings: errors, which cannot be set, and
cautions, which can be set knowingly; each with the way out that a teacher would name.

>>> first = Context(new_to_barres=True)
>>> for finding in validate(Goal("chord", (ChordTerm("E-major", "F"),), key="C"), context=first):
...     print(finding.level, finding.message, [way.label for way in finding.ways_out][:1])
caution Fret 1 is a hard place for a first barre (F); frets 5 to 7 are easier. ['Use F, small form']

What is drawn and written: `diagram_svg` (the chord diagram), `fretboard_svg` (where roots lie on a string),
`harmony_xml` and `sheet_xml` (MusicXML 4.0).  What is drilled: `questions`, `pick`, `mark`.

Conventions
-----------
- Strings are numbered as guitarists do, 1 the highest; tuples by string run the other way, lowest string first.
- Frets and positions count from the capo where there is one, else from the nut; 0 is open, None not played.
- Lengths are in mm, frequencies in Hz with A4 = 440, pitches as MIDI numbers with middle C = 60.
- Shape ids are `<open form>-<quality>` ("A-m7b5"), with a suffix for other fingerings ("A-major-partial");
  open chords and small forms are `open-C`, `small-F`.
- Every function raises a `TheoryError` with a sentence that a teacher understands, and nothing else, for bad
  input; `error.code` and `error.values` let an application translate it.
- Facts carry a mark in the modules that hold them: published, derived, from memory, or common practice, no
  source.

Read on: `pitch`, `keys`, `chords` (names); `instrument`, `shapes`, `voicing`, `neck` (the fretboard); `demand`,
`relations`, `route` (the hand); `naming`, `goal`, `findings`, `drill`; `diagram`, `musicxml`.
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
