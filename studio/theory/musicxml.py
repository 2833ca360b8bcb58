"""MusicXML 4.0: a voicing as `<harmony>` with its `<frame>`, and a goal sheet as a whole document.

Conventions (the standard's own [1])
-----------
- In a frame, string 1 is the highest; fret 0 is open; a string that is not played has no frame-note.
- A barre starts on the lowest-pitched of the strings that its finger holds and stops on the highest.
- `first-fret` is written only where the frame does not begin at fret 1, as the diagram's fret number is.
- Pitches are as heard, on a treble clef that sounds an octave lower; with a capo, written as `<capo>`, the
  harmony and the frame keep the names and frets that the hand uses.

References
----------
[1] W3C Music Notation Community Group, MusicXML 4.0: harmony, kind-value, degree, frame, frame-note, barre,
    staff-details.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from studio.theory.chords import quality
from studio.theory.diagram import visible_frets, xml_text
from studio.theory.errors import TheoryError
from studio.theory.keys import Key
from studio.theory.pitch import Note
from studio.theory.voicing import Voicing, check_voicing

__all__ = ["harmony_xml", "sheet_xml"]

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">\n'
)
# quarter notes -> type and dots; other lengths have a duration alone, which the standard allows
_TYPES = {
    4.0: ("whole", 0),
    3.0: ("half", 1),
    2.0: ("half", 0),
    1.0: ("quarter", 0),
    6.0: ("whole", 1),
    1.5: ("quarter", 1),
}
_DIVISIONS = 4  # of a quarter note, so that a bar of any metre up to sixteenths has a whole duration
_BEAT_TYPES = ("1", "2", "4", "8", "16")
MAX_CHORDS = 512


def harmony_xml(voicing: Voicing, *, fingering: bool = True) -> str:
    """A voicing as a MusicXML 4.0 `<harmony>` element with its `<frame>`, without indentation.

    fingering : whether the frame says which finger presses each string.
    The bass is written where another chord tone than the root is lowest.
    Raises ShapeError for what is no Voicing.

    >>> from studio.theory.voicing import place
    >>> harmony_xml(place("E-minor", "B"))[:88]
    '<harmony><root><root-step>B</root-step></root><kind text="m">minor</kind><frame><frame-s'
    """
    check_voicing(voicing)
    found = quality(voicing.quality)
    parts = [_note("root", voicing.root), f'<kind text="{xml_text(found.suffix)}">{found.kind}</kind>']
    if voicing.bass.pitch_class != voicing.root.pitch_class:
        parts.append(_note("bass", voicing.bass))
    for value, alter, change in found.kind_degrees:
        parts.append(
            f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
            f"<degree-type>{change}</degree-type></degree>"
        )
    return f"<harmony>{''.join(parts)}{_frame(voicing, fingering)}</harmony>"


def _note(name: str, note: Note) -> str:
    alter = f"<{name}-alter>{note.accidental}</{name}-alter>" if note.accidental else ""
    return f"<{name}><{name}-step>{note.letter}</{name}-step>{alter}</{name}>"


def _frame(voicing: Voicing, fingering: bool) -> str:
    first, rows = visible_frets(voicing)
    strings = len(voicing.frets)
    starts = {(barre.finger, barre.from_string): "start" for barre in voicing.barres}
    stops = {(barre.finger, barre.to_string): "stop" for barre in voicing.barres}
    notes = []
    for index, (fret, finger) in enumerate(zip(voicing.frets, voicing.fingers, strict=True)):
        if fret is None:
            continue
        string = strings - index
        text = f"<string>{string}</string><fret>{fret}</fret>"
        if finger:
            text += f"<fingering>{finger}</fingering>" if fingering else ""
            barre = starts.get((finger, string)) or stops.get((finger, string))
            text += f'<barre type="{barre}"/>' if barre else ""
        notes.append(f"<frame-note>{text}</frame-note>")
    at = f"<first-fret>{first}</first-fret>" if first > 1 else ""
    return (
        f"<frame><frame-strings>{strings}</frame-strings><frame-frets>{rows}</frame-frets>{at}{''.join(notes)}</frame>"
    )


def sheet_xml(
    title: str,
    goals: Iterable[tuple[str, Sequence[Voicing]]],
    *,
    key: str | Key | None = None,
    metre: str = "4/4",
) -> str:
    """A goal sheet as a whole MusicXML 4.0 document, a bar for each voicing.

    A bar holds the harmony with its frame and the notes as heard, each with its string and fret.
    title : of the work.  goals : (words, voicings) pairs; the words stand above the goal's first bar.
    key : the signature that is written; none without it.
    metre : "4/4", "3/4", "6/8", ...; each chord fills a bar, for the sheet shows shapes and no rhythm.
    Raises TheoryError for a sheet without a chord or with more than 512, a metre that cannot be read, and
    voicings on different instruments (their capo belongs to the whole staff).
    """
    beats, beat_type = _metre(metre)
    home = None if key is None else Key.parse(key)
    quarters = beats * 4 / beat_type
    bars: list[str] = []
    neck = None
    for words, voicings in _pairs(goals):
        for place, voicing in enumerate(voicings):
            check_voicing(voicing)
            neck = neck or voicing.instrument
            if voicing.instrument.tuning != neck.tuning or voicing.instrument.capo != neck.capo:
                raise TheoryError("A sheet is for one instrument with one capo.", code="sheet-instrument")
            said = _words(words) if place == 0 and words else ""
            head = _attributes(home, beats, beat_type, neck.capo) if not bars else ""
            bars.append(f"{head}{said}{harmony_xml(voicing)}{_chord(voicing, quarters)}")
            if len(bars) > MAX_CHORDS:
                raise TheoryError("A sheet has at most {most} chords here.", code="sheet-long", most=MAX_CHORDS)
    if not bars:
        raise TheoryError("A goal sheet needs at least one chord.", code="sheet-empty")
    measures = "\n".join(f'<measure number="{number}">{bar}</measure>' for number, bar in enumerate(bars, 1))
    return (
        f'{_HEAD}<score-partwise version="4.0">\n<work><work-title>{xml_text(title)}</work-title></work>\n'
        '<part-list><score-part id="P1"><part-name>Guitar</part-name></score-part></part-list>\n'
        f'<part id="P1">\n{measures}\n</part>\n</score-partwise>\n'
    )


def _pairs(goals: object) -> Iterator[tuple[str, Sequence[Voicing]]]:
    """The (words, voicings) pairs of a sheet; TheoryError for anything else."""
    for pair in goals if isinstance(goals, Iterable) else (goals,):
        if not isinstance(pair, (tuple, list)) or len(pair) != 2 or not isinstance(pair[1], (tuple, list)):
            raise TheoryError(
                "A goal sheet is made of pairs of words and placed chords, not {value}.",
                code="sheet-goal",
                value=repr(pair)[:40],
            )
        yield pair[0], pair[1]


def _metre(metre: object) -> tuple[int, int]:
    beats, _, beat_type = metre.partition("/") if isinstance(metre, str) else ("", "", "")
    if beat_type not in _BEAT_TYPES or not (beats.isascii() and beats.isdecimal() and 1 <= int(beats[:3]) <= 32):
        raise TheoryError("A metre is written like 4/4 or 6/8, not {metre}.", code="metre", metre=repr(metre)[:40])
    return int(beats[:3]), int(beat_type)


def _attributes(key: Key | None, beats: int, beat_type: int, capo: int) -> str:
    signature = f"<key><fifths>{key.signature}</fifths><mode>{key.mode}</mode></key>" if key is not None else ""
    held = f"<staff-details><capo>{capo}</capo></staff-details>" if capo else ""
    return (
        f"<attributes><divisions>{_DIVISIONS}</divisions>{signature}"
        f"<time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time>"
        "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
        f"{held}</attributes>"
    )


def _words(text: str) -> str:
    return f'<direction placement="above"><direction-type><words>{xml_text(text)}</words></direction-type></direction>'


def _chord(voicing: Voicing, quarters: float) -> str:
    """The sounding notes as one chord, lowest string first, with string and fret."""
    name, dots = _TYPES.get(quarters, ("", 0))
    length = (
        f"<duration>{round(quarters * _DIVISIONS)}</duration>"
        + (f"<type>{name}</type>" if name else "")
        + "<dot/>" * dots
    )
    strings = len(voicing.frets)
    notes: list[str] = []
    for index, note in enumerate(voicing.sounding_notes):
        if note is None:
            continue
        alter = f"<alter>{note.accidental}</alter>" if note.accidental else ""
        notes.append(
            f"<note>{'<chord/>' if notes else ''}<pitch><step>{note.letter}</step>{alter}<octave>{note.octave}</octave>"
            f"</pitch>{length}<notations><technical><string>{strings - index}</string>"
            f"<fret>{voicing.frets[index]}</fret></technical></notations></note>"
        )
    return "".join(notes)
