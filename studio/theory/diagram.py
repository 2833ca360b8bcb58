"""Drawings: a voicing as the trade's vertical chord diagram, and the strip that shows where roots lie.

Both are SVG texts that carry classes and no `style`, so that the page's stylesheet (and its
Content-Security-Policy) rules. The colours written as attributes are print colours that any stylesheet
overrules.

Conventions
-----------
- Strings run from the lowest at the left to the highest at the right; a left-handed player's diagram is the
  mirror image.
- The nut is a thick line, drawn only where it is in view: where no finger stands higher than the fourth fret.
  Else the number of the top row's fret stands at its left.
- x above a string: not played. o: open. A finger on several strings is a barre, one rounded bar with its
  number once. A dot that sounds the root has a ring.
- Classes: chord, wire, nut, dot, num, fr, mark, root; lab for names above open strings, hit for tappable
  strings.

References
----------
Chord diagrams as printed in song books: common practice, no source. Fret spacing of the strip: `instrument`.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Literal

from studio.theory.errors import TheoryError
from studio.theory.instrument import STRING, Instrument, read_instrument
from studio.theory.keys import Key
from studio.theory.pitch import Note, common_note
from studio.theory.shapes import Barre
from studio.theory.voicing import Voicing, check_voicing

__all__ = ["describe", "diagram_svg", "fretboard_svg"]

Labels = Literal["fingers", "notes", "intervals", "none"]
Plays = Literal["right", "left"]

_INK, _LINE, _MUTED, _ACCENT, _PAPER = "#22201C", "#8C8474", "#5E584E", "#1E5F74", "#FFFFFF"  # print colours
_LEFT, _TOP, _GAP, _ROW, _RIGHT, _BOTTOM = 24, 22, 12, 16, 14, 8  # units of the viewBox
_ROWS = 4  # fret spaces drawn at the least

_DOT, _NAMED_DOT = 4.6, 5.4  # radius; a name needs more room than a finger's number
_WIRES = f'<path class="wire" fill="none" stroke="{_LINE}" stroke-width=".8" d="{{}}"/>'
_NUT = f'<path class="nut" stroke="{_INK}" stroke-width="3.4" d="{{}}"/>'
_BAR = '<rect class="dot" x="{:g}" y="{:g}" width="{:g}" height="{:g}" rx="{:g}"/>'


def diagram_svg(
    voicing: Voicing,
    *,
    title: str | None = None,
    desc: str | None = None,
    labels: Labels = "fingers",
    plays: Plays = "right",
    tappable: bool = False,
    uid: str | None = None,
) -> str:
    """The chord diagram of a voicing as an SVG text under 4 KB.

    title, desc : what a screen reader says; English texts of their own when None, the second by `describe`.
    labels : what stands in the dots: "fingers", "notes", "intervals" (degrees above the root) or "none".
    plays : "left" draws the mirror image.
    tappable : adds a button over each string (class hit, data-string 1 to 8, 1 the highest, aria-pressed
        false), for marking the strings that failed.
    uid : at most 40 letters, digits, - and _, a letter first; gives title and description ids unique in the
        page. Without it the text has no ids and is named by aria-label.
    Raises ShapeError for what is no Voicing, TheoryError for other values of labels, plays and uid.
    """
    check_voicing(voicing)
    _one_of("labels", labels, ("fingers", "notes", "intervals", "none"))
    _one_of("plays", plays, ("right", "left"))
    frets, fingers = voicing.frets, voicing.fingers
    strings = len(frets)
    first, rows = visible_frets(voicing)
    width, height = _LEFT + _GAP * (strings - 1) + _RIGHT, _TOP + _ROW * rows + _BOTTOM
    across, down = _GAP * (strings - 1), _ROW * rows

    def x(index: int) -> int:
        return _LEFT + _GAP * (strings - 1 - index if plays == "left" else index)

    def y(fret: int) -> float:
        return _TOP + _ROW * (fret - first + 0.5)

    texts = _labels(voicing, labels)
    dot = _DOT if labels in ("fingers", "none") else _NAMED_DOT
    wires = f"M{_LEFT} {_TOP}v{down}" + f"m{_GAP} {-down}v{down}" * (strings - 1)
    wires += f"M{_LEFT} {_TOP}h{across}" + f"m{-across} {_ROW}h{across}" * rows
    parts = [_WIRES.format(wires)]
    if first == 1:
        parts.append(_NUT.format(f"M{_LEFT} {_TOP}h{across}"))
    else:
        number = _text("fr", _LEFT - 11, y(first) + 3.4, str(first))
        parts.append(f'<g fill="{_MUTED}" font-size="9" text-anchor="end">{number}</g>')
    bars = _bars(voicing)
    dots: list[str] = []
    inside: list[str] = []
    names: list[str] = []  # of open strings, where names are asked for
    over: list[str] = []  # x and o
    rings: list[str] = []
    for barre in bars.values():
        left, right = sorted((x(strings - barre.from_string), x(strings - barre.to_string)))
        dots.append(_BAR.format(left - dot, y(barre.fret) - dot, right - left + 2 * dot, 2 * dot, dot))
        if labels == "fingers":
            at = x(_number_column(voicing, barre))
            inside.append(_text("num", at, y(barre.fret) + 2.9, str(barre.finger)))
    for index, fret in enumerate(frets):
        at = x(index)
        if fret is None:
            over.append(f'<path class="mark" d="M{at - 2.6:g} 11.4l5.2 5.2m0-5.2l-5.2 5.2"/>')
            continue
        if fret == 0:
            over.append(_circle("mark", at, 14, 2.9))
            if labels in ("notes", "intervals"):
                names.append(_text("fr lab", at, 8, texts[index]))
        else:
            if fingers[index] not in bars:
                dots.append(_circle("dot", at, y(fret), dot))
            if texts[index] and not (labels == "fingers" and fingers[index] in bars):
                inside.append(_text("num", at, y(fret) + 2.9, texts[index], fit=8.8))
        if voicing.degrees[index] == "1":
            rings.append(_circle("root", at, y(fret) if fret else 14, dot + 2.2 if fret else 5))
    parts += [
        f'<g fill="{_INK}">{"".join(dots)}</g>',
        f'<g fill="none" stroke="{_MUTED}" stroke-width="1.1">{"".join(over)}</g>',
        f'<g font-weight="600" font-size="7.4" text-anchor="middle"><g fill="{_PAPER}">{"".join(inside)}</g>',
        f'<g fill="{_MUTED}">{"".join(names)}</g></g>',
        f'<g fill="none" stroke="{_ACCENT}" stroke-width="1.7">{"".join(rings)}</g>',
    ]
    if tappable:
        parts += [_tap(strings - index, x(index), height) for index in range(strings)]
    return _svg(
        "chord",
        width,
        height,
        title if title is not None else voicing.title,
        desc if desc is not None else describe(voicing),
        "".join(parts),
        uid,
        role="group" if tappable else "img",
    )


def visible_frets(voicing: Voicing) -> tuple[int, int]:
    """The first fret in view and how many are drawn: from the nut where the highest is 4 or less, else from
    the lowest pressed."""
    first = 1 if voicing.highest_fret <= _ROWS else voicing.lowest_fret
    return first, max(_ROWS, voicing.highest_fret - first + 1)


def describe(voicing: Voicing) -> str:
    """What a diagram shows, in English, string by string from the lowest: what a screen reader reads out.

    voicing : Voicing.
    "6th string not played. 5th string fret 5, finger 1, D, root. Finger 3 lies over strings 4 to 2 at fret
    7."  Frets count from nut or capo, fingers from 1 (index) to 4.  Raises ShapeError for what is no Voicing.
    """
    check_voicing(voicing)
    strings = len(voicing.frets)
    sentences = []
    for index, fret in enumerate(voicing.frets):
        name = STRING[strings - index]
        if fret is None:
            sentences.append(f"{name} not played.")
            continue
        finger = f", finger {voicing.fingers[index]}" if voicing.fingers[index] else ""
        root = ", root" if voicing.degrees[index] == "1" else ""
        where = f"fret {fret}" if fret else "open"
        sentences.append(f"{name} {where}{finger}, {voicing.notes[index]}{root}.")
    for barre in _bars(voicing).values():
        sentences.append(
            f"Finger {barre.finger} lies over strings {barre.from_string} to {barre.to_string} at fret {barre.fret}."
        )
    return " ".join(sentences)


def fretboard_svg(
    root: str | Note | None,
    string: int,
    instrument: str | Instrument = "steel-string",
    *,
    key: str | Key | None = None,
    title: str | None = None,
    desc: str | None = None,
    plays: Plays = "right",
    uid: str | None = None,
) -> str:
    """The fretboard strip: where a root lies on one string, up to the last fret, as an SVG text.

    root : the note looked for, or None to name the string's notes alone.
    string : int, 1 (the highest) to the number of strings.
    instrument : an Instrument or a preset's id; with a capo the strip begins there, and frets and names count
        from it, as chords keep the names they are fingered by.
    key : spells the notes; without one the naturals alone are named, and the root keeps the name asked for.
    plays : "left" puts the nut at the right.  title, desc, uid : as in `diagram_svg`.
    The string's natural notes are named, as one counts up the alphabet; the root has a dot and a ring at each
    place. Fret spaces narrow as they do on the neck. Raises TheoryError for a string that the instrument does
    not have.
    """
    _one_of("plays", plays, ("right", "left"))
    guitar = read_instrument(instrument)
    guitar.check_point(string, 0)
    wanted = None if root is None else Note(root).without_octave()
    spelled = None if key is None else Key.parse(key)
    last = guitar.last_fret
    strings = guitar.strings
    scale = 600 / guitar.fret_distance(last)
    left, top, gap = 40, 14, 11
    width, height = left + 600 + 10, top + gap * (strings - 1) + 30

    def x(fret: float) -> float:
        low = int(fret)
        along = guitar.fret_distance(low)
        if fret > low:  # the middle of the space before the next fret
            along = (along + guitar.fret_distance(low + 1)) / 2
        at = round(left + along * scale, 1)
        return round(width - at, 1) if plays == "left" else at

    y = top + gap * (string - 1)  # the 1st string on top, as a player sees the neck in tablature
    bottom = top + gap * (strings - 1)
    wires = "".join(f"M{x(0):g} {top + gap * row}H{x(last):g}" for row in range(strings))
    wires += "".join(f"M{x(fret):g} {top}V{bottom}" for fret in range(1, last + 1))
    dots: list[str] = []
    rings: list[str] = []
    names: list[str] = []
    inside: list[str] = []
    places: list[int] = []
    named: list[tuple[int, str]] = []
    for fret in range(last + 1):
        pitch = guitar.tuning[-string] + fret  # as fingered: a capo renames nothing
        at = x(fret - 0.5) if fret else x(0) + (16 if plays == "left" else -16)
        if wanted is not None and pitch % 12 == wanted.pitch_class:
            places.append(fret)
            dots.append(_circle("dot", at, y, 6.5))
            rings.append(_circle("root", at, y, 8.5))
            inside.append(_text("num", at, y + 2.9, str(wanted), fit=9.5))
            continue
        note = common_note(pitch) if spelled is None else spelled.spell(pitch)
        if note.is_natural or (spelled is not None and note in spelled.scale):
            named.append((fret, str(note)))
            names.append(_text("fr lab", at, y - 2.2, str(note)))
    numbers = [fret for fret in (3, 5, 7, 9, 12, 15, 17, 19, 21, 24) if fret <= last]
    names += [_text("fr", x(fret - 0.5), bottom + 18, str(fret)) for fret in numbers]
    parts = [
        _WIRES.format(wires),
        _NUT.format(f"M{x(0):g} {top}V{bottom}"),
        f'<g fill="{_INK}">{"".join(dots)}</g>',
        f'<g font-weight="600" font-size="9" text-anchor="middle"><g fill="{_MUTED}">{"".join(names)}</g>',
        f'<g fill="{_PAPER}">{"".join(inside)}</g></g>',
        f'<g fill="none" stroke="{_ACCENT}" stroke-width="1.7">{"".join(rings)}</g>',
    ]
    if wanted is None:
        said = f"Notes on the {STRING[string]}"
        told = ", ".join(f"{note} {fret}" if fret else f"open {note}" for fret, note in named) + "."
    else:
        said = f"{wanted} on the {STRING[string]}"
        where = ", ".join(f"fret {fret}" if fret else "open" for fret in places)
        told = f"{said}: {where}." if places else f"{said} lies beyond the last fret."
    return _svg(
        "chord strip",
        width,
        height,
        title if title is not None else said,
        desc if desc is not None else told,
        "".join(parts),
        uid,
    )


def _one_of(name: str, value: object, allowed: Sequence[str]) -> None:
    if value not in allowed:
        raise TheoryError(
            "{name} is one of {allowed}, not {value}.",
            code="diagram-option",
            name=name,
            allowed=", ".join(allowed),
            value=repr(value)[:40],
        )


def _circle(classes: str, x: float, y: float, r: float) -> str:
    return f'<circle class="{classes}" cx="{x:g}" cy="{y:g}" r="{r:g}"/>'


def _text(classes: str, x: float, y: float, text: str, fit: float = 0) -> str:
    """A text; two letters or more are squeezed into the width `fit`, when that is not 0."""
    squeeze = f' textLength="{fit:g}" lengthAdjust="spacingAndGlyphs"' if fit and len(text) > 1 else ""
    return f'<text class="{classes}" x="{x:g}" y="{y:g}"{squeeze}>{escape(text)}</text>'


def _bars(voicing: Voicing) -> dict[int | None, Barre]:
    """The barre of each finger that holds several strings."""
    return {barre.finger: barre for barre in voicing.barres}


def _labels(voicing: Voicing, labels: Labels) -> list[str]:
    """What stands in the dot of each string, or above it where it is open."""
    count = len(voicing.frets)
    if labels == "none":
        return [""] * count
    if labels == "fingers":
        return [str(finger) if finger else "" for finger in voicing.fingers]
    if labels == "notes":
        return ["" if note is None else str(note) for note in voicing.notes]
    return [degree or "" for degree in voicing.degrees]


def _number_column(voicing: Voicing, barre: Barre) -> int:
    """The string, as an index, on which a barre's number stands: the root's, else the middle one or the
    lowest.
    """
    low, high = len(voicing.frets) - barre.from_string, len(voicing.frets) - barre.to_string
    return low if voicing.degrees[low] == "1" or (high - low) % 2 else (low + high) // 2


def _tap(string: int, x: float, height: float) -> str:
    """A button over a string, 12 units wide: 24 CSS px in a diagram that is 196 px wide."""
    return (
        '<rect class="hit" fill="none" pointer-events="all" role="button" tabindex="0" aria-pressed="false"'
        f' aria-label="{STRING[string]}" data-string="{string}" x="{x - 6:g}" y="0" width="12"'
        f' height="{height:g}"/>'
    )


def xml_text(text: str) -> str:
    """`text` fit to stand in XML: signs of markup escaped, characters that XML 1.0 forbids left out."""
    plain = " ".join(str(text).split())
    return escape(plain if plain.isprintable() else "".join(filter(str.isprintable, plain)))


def _is_id(text: object) -> bool:
    return (
        isinstance(text, str)
        and text.isascii()
        and len(text) <= 40
        and text[:1].isalpha()
        and text.replace("-", "a").replace("_", "a").isalnum()
    )


def _svg(
    classes: str,
    width: float,
    height: float,
    title: str,
    desc: str,
    body: str,
    uid: str | None,
    role: str = "img",
) -> str:
    if uid is None:
        names, title_id, desc_id = f'aria-label="{xml_text(title)}"', "", ""
    elif _is_id(uid):
        names = f'aria-labelledby="{uid}-t" aria-describedby="{uid}-d"'
        title_id, desc_id = f' id="{uid}-t"', f' id="{uid}-d"'
    else:
        raise TheoryError(
            "An id begins with a letter and has at most 40 letters, digits, - or _; {value} does not.",
            code="diagram-uid",
            value=repr(uid)[:60],
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{classes}" viewBox="0 0 {width:g} {height:g}"'
        f' role="{role}" font-family="system-ui,sans-serif" {names}><title{title_id}>{xml_text(title)}</title>'
        f"<desc{desc_id}>{xml_text(desc)}</desc>{body}</svg>"
    )
