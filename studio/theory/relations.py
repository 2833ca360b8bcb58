"""What two shapes have to do with each other, as teachers show it at the instrument.

E-shape minor is E-shape major less the second finger; E-shape major moved one string over is A-shape minor.
A relation says which fingers stay, which move and by how many strings or frets, which are lifted or added,
and whether one form is the other moved bodily across the strings.

Conventions: two movable shapes are compared with the index at one fret, a movable shape and an open
chord with the index in the nut's place, two voicings where they stand.  "Over" counts strings towards the
treble (+1: from the 6th to the 5th).  The facts about shapes are common practice, no source; everything said
here is computed from the forms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from studio.theory.errors import ShapeError
from studio.theory.shapes import FINGER_NAMES, Frets, Shape, find_barres, find_shape, fingertips
from studio.theory.voicing import Voicing

_BARRE_TOLD = {"laid": "The index is laid down as a barre.", "lifted": "The barre is lifted."}


@dataclass(frozen=True, slots=True)
class Move:
    """One finger's way: strings over (towards the treble positive) and frets up (towards the body
    positive)."""

    finger: int
    strings: int
    frets: int

    @property
    def way(self) -> str:
        """The way in words: "one string over and two frets up"."""
        parts = []
        if self.strings:
            side = "over" if self.strings > 0 else "back"
            parts.append(f"{_number(abs(self.strings), 'string')} {side}")
        if self.frets:
            parts.append(f"{_number(abs(self.frets), 'fret')} {'up' if self.frets > 0 else 'down'}")
        return " and ".join(parts)


@dataclass(frozen=True, slots=True)
class Relation:
    """How to get from shape `a` to shape `b`.

    stay : fingers that keep string and fret.  moves : fingers that go elsewhere.  lifted, added : fingers.
    barre : "stays", "laid", "lifted", "changed" or "none": what becomes of the index's barre.
    strings_over : how many strings the whole form of `a` moves towards the treble to be `b`, None if it is
        not that form; 0 means the same frets.
    gained : how many more strings `b` sounds than `a`; negative for fewer.
    takes_over : where the frets are the same, (finger of a, finger of b that has its place), else ().
    frets_up : how many frets the whole form, same fingers, moves up to be `b`, else None.
    a_name, b_name : how they are called.
    """

    a: str
    b: str
    a_name: str
    b_name: str
    stay: tuple[int, ...]
    moves: tuple[Move, ...]
    lifted: tuple[int, ...]
    added: tuple[int, ...]
    barre: str
    strings_over: int | None
    frets_up: int | None
    gained: int
    takes_over: tuple[tuple[int, int], ...]

    @property
    def words(self) -> tuple[str, ...]:
        """English sentences, the most telling first."""
        a, b = self.a_name, self.b_name
        still = not (self.moves or self.lifted or self.added)
        if still and self.strings_over == 0:
            return (_sentence(f"{b} is the same grip" if self.a != self.b else f"{b} is the same shape"),)
        if self.frets_up:
            side = "up" if self.frets_up > 0 else "down"
            return (_sentence(f"{a} moved {_number(abs(self.frets_up), 'fret')} {side} is {b}"),)
        if self.strings_over:
            side = "over" if self.strings_over > 0 else "back"
            gained = f", with {_number(self.gained, 'string')} more" if self.gained > 0 else ""
            return (_sentence(f"{a} moved {_number(abs(self.strings_over), 'string')} {side} is {b}{gained}"),)
        said = []
        if self.strings_over == 0 and self.takes_over:
            said.append(_sentence(f"{b} has the frets of {a} with other fingers"))
            pairs = [
                f"the {FINGER_NAMES[new] if not i else FINGER_NAMES[new].removesuffix(' finger')} "
                f"{'takes over ' if not i else ''}from the {FINGER_NAMES[old].removesuffix(' finger')}"
                for i, (old, new) in enumerate(self.takes_over)
            ]
            said.append(_sentence(", ".join(pairs)))
            return tuple([*said, _BARRE_TOLD[self.barre]] if self.barre in _BARRE_TOLD else said)
        if self.lifted and not self.added and not self.moves:
            said.append(_sentence(f"{b} is {a} less {_fingers(self.lifted)}"))
        elif self.added and not self.lifted and not self.moves:
            said.append(_sentence(f"{b} is {a} with {_fingers(self.added)} added"))
        else:
            if self.stay:
                said.append(_sentence(f"{_fingers(self.stay)} {_verb(self.stay, 'stay')} down"))
            ways: dict[str, list[int]] = {}
            for move in self.moves:
                ways.setdefault(move.way, []).append(move.finger)
            for way, fingers in ways.items():
                said.append(_sentence(f"{_fingers(fingers)} {_verb(fingers, 'move')} {way}"))
            for some, done in ((self.lifted, "lifted"), (self.added, "added")):
                if some:
                    said.append(_sentence(f"{_fingers(some)} {_verb(some, 'be')} {done}"))
        if self.barre in _BARRE_TOLD:
            said.append(_BARRE_TOLD[self.barre])
        return tuple(said)

    @property
    def text(self) -> str:
        """The sentences as one text."""
        return " ".join(self.words)


def relation(shape_a: str | Shape | Voicing, shape_b: str | Shape | Voicing) -> Relation:
    """How shape_b follows from shape_a.

    shape_a, shape_b : ids of SHAPES (or Shapes), or two Voicings, then compared where they stand on the neck.
    Raises ShapeError for unknown ids, and when a Voicing is compared with a shape or on other numbers of
    strings.

    >>> relation("E-major", "E-minor").words[0]
    'E-shape minor is E-shape major less the second finger.'
    >>> relation("E-major", "A-minor").words[0]
    'E-shape major moved one string over is A-shape minor.'
    """
    if isinstance(shape_a, Voicing) and isinstance(shape_b, Voicing):
        if len(shape_a.frets) != len(shape_b.frets):
            raise ShapeError("Two chords are compared on one instrument.", code="relation-instruments")
        names = shape_a.title, shape_b.title
        ids = shape_a.shape, shape_b.shape
        mixed = False
        forms = (shape_a.frets, shape_a.fingers), (shape_b.frets, shape_b.fingers)
    elif isinstance(shape_a, Voicing) or isinstance(shape_b, Voicing):
        raise ShapeError("Compare two shapes, or two placed chords.", code="relation-mixed")
    else:
        a, b = find_shape(shape_a), find_shape(shape_b)
        at_nut = not (a.moves and b.moves)
        forms = _hold(a, at_nut), _hold(b, at_nut)
        mixed = a.moves != b.moves
        names, ids = (a.name, b.name), (a.id, b.id)
    found = _relate(ids, names, *forms)
    # Beside an open chord a movable form stands at another fret: only the very same frets tell anything then.
    return replace(found, strings_over=None) if mixed and found.strings_over else found


def _hold(shape: Shape, at_nut: bool) -> tuple[Frets, Frets]:
    """Frets and fingers for the comparison, counted from the nut or from the index in its place.

    Beside a shape tied to the nut a small form is compared where it is at home.
    """
    form = shape.form
    if at_nut and shape.home:
        return tuple(None if fret is None else fret + shape.home for fret in form.frets), form.fingers
    return form.frets, form.fingers


def _relate(ids: tuple[str, str], names: tuple[str, str], a: tuple[Frets, Frets], b: tuple[Frets, Frets]) -> Relation:
    before, after = fingertips(*a), fingertips(*b)
    barre_a = next((barre for barre in find_barres(*a) if barre.is_full), None)
    barre_b = next((barre for barre in find_barres(*b) if barre.is_full), None)
    stay, moves = [], []
    for finger in sorted(before.keys() & after.keys()):
        (string_a, fret_a), (string_b, fret_b) = before[finger], after[finger]
        if finger == 1 and barre_a and barre_b and fret_a == fret_b:
            stay.append(finger)  # a barre may reach over more or fewer strings without being lifted
        elif (string_a, fret_a) == (string_b, fret_b):
            stay.append(finger)
        else:
            moves.append(Move(finger, string_a - string_b, fret_b - fret_a))
    return Relation(
        *ids,
        *names,
        tuple(stay),
        tuple(moves),
        tuple(sorted(before.keys() - after.keys())),
        tuple(sorted(after.keys() - before.keys())),
        _barre_fate(barre_a, barre_b),
        _over(a[0], b[0]),
        _up(a, b),
        sum(fret is not None for fret in b[0]) - sum(fret is not None for fret in a[0]),
        _takes_over(a, b) if a[0] == b[0] else (),
    )


def _takes_over(a: tuple[Frets, Frets], b: tuple[Frets, Frets]) -> tuple[tuple[int, int], ...]:
    pairs = {(old, new) for old, new in zip(a[1], b[1], strict=True) if old and new and old != new}
    return tuple(sorted(pairs))


def _barre_fate(a: object, b: object) -> str:
    if a is None and b is None:
        return "none"
    if a is None:
        return "laid"
    if b is None:
        return "lifted"
    return "stays" if a == b else "changed"


def _over(a: Frets, b: Frets) -> int | None:
    """Strings by which form `a` moves bodily towards the treble to be `b`: -2 to 2, or None.

    At the edge of the neck strings fall off (E-major over to A-minor) or, on the way back, come on again: no
    more than the strings moved, and what is left must still be a chord.
    """
    if a == b:
        return 0
    for over in (1, 2):
        for one, other, sign in ((a, b, 1), (b, a, 1), (a, b, -1), (b, a, -1)):
            kept, had = (sum(fret is not None for fret in frets) for frets in (other, one))
            if _shifted(one, sign * over) == other and had - kept <= over and kept >= (3 if had > kept else 2):
                return sign * over if one is a else -sign * over
    return None


def _shifted(frets: Frets, over: int) -> Frets:
    count = len(frets)
    return tuple(frets[i - over] if 0 <= i - over < count else None for i in range(count))


def _up(a: tuple[Frets, Frets], b: tuple[Frets, Frets]) -> int | None:
    """Frets by which the whole grip, same fingers, moves up the neck, or None; open strings do not move."""
    ways = set()
    for fret_a, fret_b in zip(a[0], b[0], strict=True):
        if fret_a is not None and fret_b is not None:
            ways.add(fret_b - fret_a)
        elif fret_a is not fret_b:
            return None
    return ways.pop() if a[1] == b[1] and len(ways) == 1 else None


def _number(count: int, noun: str) -> str:
    words = ("no", "one", "two", "three", "four", "five", "six")
    return f"{words[count] if count < len(words) else count} {noun}{'' if count == 1 else 's'}"


def _fingers(fingers: Sequence[int]) -> str:
    if len(fingers) == 1:
        return f"the {FINGER_NAMES[fingers[0]]}"
    names = [FINGER_NAMES[finger].removesuffix(" finger") for finger in fingers]
    return f"the {', '.join(names[:-1])} and {names[-1]} fingers"


def _verb(fingers: Sequence[int], verb: str) -> str:
    if verb == "be":
        return "is" if len(fingers) == 1 else "are"
    return f"{verb}s" if len(fingers) == 1 else verb


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + "."
