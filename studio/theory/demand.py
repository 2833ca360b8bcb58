"""Grip demand: what a voicing, or a change between two, asks of the fretting hand, as named terms that add
up.

The number is an ordering, not a measurement.  Its unit is "one more finger to press"; nothing was fitted to
players. It orders voicings as teachers do (open E minor, open E, small F, barred F at fret 1) and says why in
words.  It is no forecast of how hard a song is: experts' ratings of whole songs follow the number of distinct
chords more than any geometry of the single grips.  It says nothing about health.

The terms of a voicing
----------------------
fingers    1 for each finger that presses.  Experts' 0 to 3 rubric puts two- and three-finger chords easiest,
           barre with four-finger chords hardest, E- and A-shape barres in between (published [1]_).
barre      0.25 for each string beyond the first that the index lies over; 0.75 for each that another finger
           does, because its end joint has to give way.  Weights: common practice, no source.
alone      0.2 for each string that the index alone must sound under its barre (6, 2 and 1 in the E-shape
           major). Common practice, no source.
stretch    2 x (stretch in mm / reach of the hand in mm), and 2.5 for each fret beyond two: joints
           near mid-range govern fingering (published [2]_); the weights are common practice, no source.
crowding   mm that fingertips in one fret lack, in fingertip widths: neighbours of width w on strings d apart
           need sqrt(w^2 - d^2) mm of fret each (derived).
position   0.5, and 0.04 more for each string beyond the first that the index lies over, at fret 1; elsewhere
           the share of it by which the lowest pressed fret takes more force than the easiest one, from the
           statics of a string pressed at x from the nut: F = T h (1/x + 1/(L - x)), its height h rising from
           0.5 mm at fret 1 to 2.0 at fret 12 (derived; a hint that moves with nut and action height; no
           published measurement says at which fret a barre is hardest, teachers say fret 1).
joint      1, and 0.5 more per fret, where the index stands past the body joint (common practice).
damping    1 for each inner string that must be kept silent between sounding ones (common practice).

Conventions: lengths in mm; frets from nut or capo; a term that asks nothing is 0.0 and stays in the mapping.

References
----------
.. [1] Velez Vasquez, Baelemans, Driedger, Zuidema, Burgoyne, ISMIR 2023.
.. [2] Heijink & Meulenbroek, J Mot Behav 2002;34:339.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType

from studio.theory.errors import TheoryError
from studio.theory.instrument import Instrument
from studio.theory.voicing import Voicing, check_voicing

# -- the hand ------------------------------------------------------------------------------------------------

#: size -> (fingertip width mm, reach mm from first to fourth finger along the neck).
#: Fingertips: adult index 16 to 20 mm (from memory), children of 3 to 10 years 15 mm across (published, Ann
#: Anat 2010;192:156); within that range the sizes are ours.  Reach: from memory, one finger per fret at fret
#: 1 of a 648 mm neck is 97 mm.
HAND_SIZES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"small": (15.0, 90.0), "medium": (16.0, 105.0), "large": (19.0, 120.0)}
)
# last year of age -> (fingertip mm, reach mm).  A child's index is 69 mm long (published, as above) against
# about 90 in an adult (from memory), hence about 80 mm of reach; 70 for the youngest (derived).
_AGES = ((7, (13.0, 70.0)), (10, (15.0, 80.0)), (13, (15.0, 90.0)))


@dataclass(frozen=True, slots=True)
class Hand:
    """A fretting hand: its size in words and the two measures that decide what fits.

    size : "small", "medium" or "large".  fingertip_mm : float, 5 to 30, width of the index fingertip.
    reach_mm : float, 40 to 200, from first to fourth finger along the neck, in comfort.
    A measure left out takes the default of its size.  Raises TheoryError outside these ranges.

    >>> Hand(), Hand.of(age=9).reach_mm
    (Hand(size='medium', fingertip_mm=16.0, reach_mm=105.0), 80.0)
    """

    size: str = "medium"
    fingertip_mm: float | None = None
    reach_mm: float | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.size, str) or self.size not in HAND_SIZES:
            raise TheoryError(
                "A hand is small, medium or large, not {size}.", code="hand-size", size=repr(self.size)[:40]
            )
        tip, reach = HAND_SIZES[self.size]
        put = object.__setattr__
        put(self, "fingertip_mm", _measure(self.fingertip_mm, tip, 5.0, 30.0, "fingertip width"))
        put(self, "reach_mm", _measure(self.reach_mm, reach, 40.0, 200.0, "reach"))

    @classmethod
    def of(
        cls,
        size: str | None = None,
        age: int | None = None,
        fingertip_mm: float | None = None,
        reach_mm: float | None = None,
    ) -> Hand:
        """A hand by what is known of it: measures first, then the size in words, then the age in years.

        age : int, 0 to 120; from 14 years on it says nothing and the hand is medium.
        Raises TheoryError for a size or number that no hand has.
        """
        if age is not None and (isinstance(age, bool) or not isinstance(age, int) or not 0 <= age <= 120):
            raise TheoryError("{age} is not an age in years.", code="hand-age", age=repr(age)[:40])
        if size is None and age is not None:
            for last, (tip, reach) in _AGES:
                if age <= last:
                    return cls(
                        "small",
                        tip if fingertip_mm is None else fingertip_mm,
                        reach if reach_mm is None else reach_mm,
                    )
        return cls("medium" if size is None else size, fingertip_mm, reach_mm)

    @property
    def tip(self) -> float:
        """Fingertip width in mm."""
        assert self.fingertip_mm is not None
        return self.fingertip_mm

    @property
    def reach(self) -> float:
        """Reach in mm."""
        assert self.reach_mm is not None
        return self.reach_mm


def _measure(value: object, default: float, low: float, high: float, what: str) -> float:
    if value is None:
        return default
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
        raise TheoryError(
            "A {what} of {value} mm is outside {low:g} to {high:g} mm.",
            code="hand-measure",
            what=what,
            value=repr(value)[:40],
            low=low,
            high=high,
        )
    return float(value)


AVERAGE = Hand()


def check_hand(value: object) -> None:
    """Raise TheoryError unless `value` is a Hand."""
    if not isinstance(value, Hand):
        raise TheoryError("{value} is no hand; `Hand()` is an average adult's.", code="hand", value=repr(value)[:40])


# -- demand as a value ---------------------------------------------------------------------------------------

#: term -> what it says of a voicing, for people.
VOICING_TERMS: Mapping[str, str] = MappingProxyType(
    {
        "fingers": "fingers to press",
        "barre": "strings to lie over with one finger",
        "alone": "strings that the barre alone must sound",
        "stretch": "stretch against the reach of this hand",
        "crowding": "fingertips crowded into one fret",
        "position": "force at this end of the neck",
        "joint": "hand past the body joint",
        "damping": "inner strings to keep silent",
    }
)
#: term -> what it says of a change, for people.
CHANGE_TERMS: Mapping[str, str] = MappingProxyType(
    {
        "lifted": "fingers to lift away",
        "placed": "fingers to place anew",
        "moved": "fingers to carry to another string or fret",
        "slid": "fingers to slide along their string",
        "barre": "barre to lay down",
        "travel": "way of the hand along the neck",
    }
)


@dataclass(frozen=True, slots=True)
class Demand:
    """Named terms that add up: `total` is their sum, `float(demand)` the same.

    terms : name -> float >= 0, unit "one finger to press".
    """

    terms: Mapping[str, float]

    @property
    def total(self) -> float:
        """The sum of the terms."""
        return math.fsum(self.terms.values())

    @property
    def largest(self) -> tuple[str, ...]:
        """Names of the terms that ask something, the largest first."""
        return tuple(sorted((name for name, x in self.terms.items() if x > 0), key=lambda n: -self.terms[n]))

    def __float__(self) -> float:
        return self.total

    def __hash__(self) -> int:
        return hash(tuple(self.terms.items()))


# -- the model -----------------------------------------------------------------------------------------------

_BARRE_INDEX, _BARRE_OTHER, _ALONE = 0.25, 0.75, 0.2
_STRETCH, _STRETCH_PAST_TWO = 2.0, 2.5
_POSITION, _POSITION_BARRE = 0.5, 0.04
_JOINT, _JOINT_PER_FRET = 1.0, 0.5
# As much as a finger, so that neither muting a string nor holding it pays; and no less than a barre over
# three strings (0.25 x 2 + 0.2 x 2 + 0.04 x 2), the largest that one muted inner string dissolves.
_DAMPING = 1.0


@lru_cache(maxsize=256)
def press_force(instrument: Instrument) -> tuple[float, ...]:
    """Force to press a string at each fret (index 0 unused), relative to fret 1 without a capo.

    F = T h (1/x + 1/(L - x)), h linear in distance from 0.5 mm at fret 1 to 2.0 mm at fret 12; with a capo x
    and L count from it and the height starts anew at 0.5 mm.  Derived; a hint.

    >>> [round(press_force(Instrument("a", "a"))[fret], 2) for fret in (1, 2, 3, 5, 7, 9, 12)]
    [1.0, 0.74, 0.67, 0.65, 0.68, 0.74, 0.85]
    """
    bare = instrument.with_(capo=0)
    first, twelfth, scale = bare.fret_distance(1), bare.fret_distance(12), float(instrument.scale_mm)
    rise = 1.5 / (twelfth - first)
    unit = 0.5 * (1 / first + 1 / (scale - first))
    string = scale - bare.fret_distance(instrument.capo)
    nearest = instrument.fret_distance(1)
    forces = [0.0]
    for fret in range(1, instrument.last_fret + 1):
        x = instrument.fret_distance(fret)
        forces.append((0.5 + rise * (x - nearest)) * (1 / x + 1 / (string - x)) / unit)
    return tuple(forces)


@lru_cache(maxsize=256)
def _extra_force(instrument: Instrument) -> tuple[float, ...]:
    """Force beyond the easiest fret's, scaled so that fret 1 without capo is 1; kept within 0 and 1."""
    forces = press_force(instrument)
    easiest = min(press_force(instrument.with_(capo=0))[1:])
    return tuple(min(1.0, max(0.0, (force - easiest) / (1.0 - easiest))) for force in forces)


def _crowded(voicing: Voicing, tip: float) -> list[tuple[int, float, float]]:
    """The frets too narrow for the fingertips in them: (fret, mm needed, mm there)."""
    tips: dict[int, list[int]] = {}
    flat = {barre.finger for barre in voicing.barres}  # a flat finger shares its fret with no other tip
    for finger, (string, fret) in voicing.fingertips.items():
        if finger not in flat:
            tips.setdefault(fret, []).append(string)
    found = []
    for fret, strings in tips.items():
        if len(strings) > 1:
            gap = voicing.instrument.string_gap_mm(fret)
            strings.sort()
            needed = sum(math.sqrt(max(0.0, tip * tip - ((b - a) * gap) ** 2)) for a, b in pairwise(strings))
            there = voicing.instrument.fret_space_mm(fret)
            if needed > there:
                found.append((fret, needed, there))
    return found


def crowded_fret(voicing: Voicing, hand: Hand = AVERAGE) -> tuple[int, float, float] | None:
    """The fret most too narrow for the fingertips in it: (fret, mm needed, mm there), or None.

    voicing : Voicing.  hand : whose fingertips; frets count from nut or capo.
    Three fingertips of width w on neighbouring strings a gap g apart need 2 sqrt(w^2 - g^2) mm (derived; a
    hint).  Raises ShapeError for what is no Voicing, TheoryError for what is no Hand.

    >>> from studio.theory.voicing import place
    >>> [crowded_fret(place("A-major", root)) is None for root in ("C", "D", "F")]  # frets 5, 7 and 10
    [True, False, False]
    """
    check_voicing(voicing)
    check_hand(hand)
    return max(_crowded(voicing, hand.tip), key=lambda found: found[1] - found[2], default=None)


def grip_demand(voicing: Voicing, hand: Hand = AVERAGE) -> Demand:
    """What a voicing asks of a hand; see the module's text for the terms and their sources.

    voicing : Voicing.  hand : Hand.  The unit is one more finger to press; only the order means something.
    More fingers beside the same barre, a wider stretch, a longer barre, or an inner string muted that no
    finger of its own holds never lower it; nor do wider fingertips crowded into a fret or a shorter reach.
    (To mute a string by taking its finger away is another grip, with a finger less.)
    Raises ShapeError for what is no Voicing, TheoryError for what is no Hand.

    >>> from studio.theory.voicing import place
    >>> float(grip_demand(place("open-Em"))) < float(grip_demand(place("E-major", "F")))
    True
    """
    check_voicing(voicing)
    check_hand(hand)
    frets, fingers, instrument = voicing.frets, voicing.fingers, voicing.instrument
    barres = voicing.barres
    lying = alone = index = 0.0
    for barre in barres:
        if barre.finger == 1:
            index = barre.span - 1
            alone = fingers.count(1)
        else:
            lying += (barre.span - 1) * _BARRE_OTHER
    lowest, highest = voicing.lowest_fret, voicing.highest_fret
    sounding = [index for index, fret in enumerate(frets) if fret is not None]
    inner = sounding[-1] - sounding[0] + 1 - len(sounding)
    past = voicing.position - instrument.easy_fret
    crowded = _crowded(voicing, hand.tip)
    return Demand(
        MappingProxyType(
            {
                "fingers": float(len(voicing.fingertips)),
                "barre": lying + _BARRE_INDEX * index,
                "alone": _ALONE * alone,
                "stretch": _STRETCH * voicing.stretch_mm / hand.reach
                + _STRETCH_PAST_TWO * max(0, highest - lowest - 2),
                "crowding": sum(needed - there for _, needed, there in crowded) / hand.tip if crowded else 0.0,
                "position": (_POSITION + _POSITION_BARRE * index) * _extra_force(instrument)[lowest],
                "joint": _JOINT + _JOINT_PER_FRET * past if past > 0 else 0.0,
                "damping": _DAMPING * inner,
            }
        )
    )


def hand_travel_mm(a: Voicing, b: Voicing) -> float:
    """How far the hand goes along the neck, in mm, between the index positions of two voicings.

    An open form counts as the first position, where the hand stands for it.  With different capos the way is
    measured on the neck, not from the capos.  Raises ShapeError for what is no Voicing.
    """
    check_voicing(a)
    check_voicing(b)
    return abs(b.hand_mm - a.hand_mm)


def change_demand(a: Voicing, b: Voicing, hand: Hand = AVERAGE) -> Demand:
    """What the change from one voicing to the next asks of a hand, as named terms that add up.

    lifted 0.25 for each finger taken off and not needed; placed 1 for each that comes down anew; moved 0.75
    plus 0.15 for each string it crosses; slid 0.5 for each that keeps its string (a guide) and for a barre
    that stays laid; barre 1 when a barre by the index is laid that was not there; travel: way of the hand in
    mm over its reach in mm.  A finger that stays where it is costs nothing, so a chord to itself is 0.
    Weights: common practice, no source.
    Raises ShapeError for what is no Voicing, TheoryError for what is no Hand and when the two lie on
    instruments with different numbers of strings.
    """
    check_voicing(a)
    check_voicing(b)
    check_hand(hand)
    if len(a.frets) != len(b.frets):
        raise TheoryError(
            "A change needs two chords on one instrument: these have {a} and {b} strings.",
            code="change-instruments",
            a=len(a.frets),
            b=len(b.frets),
        )
    before, after = a.fingertips, b.fingertips
    lifted = placed = moved = slid = 0.0
    for finger, tip in after.items():
        old = before.get(finger)
        if old is None:
            placed += 1.0
        elif old[0] != tip[0] and not (finger == 1 and a.has_barre and b.has_barre):
            moved += 0.75 + 0.15 * abs(old[0] - tip[0])
        elif old[1] != tip[1]:
            slid += 0.5
    for finger in before:
        if finger not in after:
            lifted += 0.25
    laid = b.has_barre and not a.has_barre
    return Demand(
        MappingProxyType(
            {
                "lifted": lifted,
                "placed": placed,
                "moved": moved,
                "slid": slid,
                "barre": 1.0 if laid else 0.0,
                "travel": hand_travel_mm(a, b) / hand.reach,
            }
        )
    )
