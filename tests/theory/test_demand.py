"""Grip demand: terms that add up, monotone where they must be; and the hand."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory import (
    INSTRUMENTS,
    SHAPES,
    Hand,
    OffNeck,
    TheoryError,
    change_demand,
    crowded_fret,
    grip_demand,
    place,
)
from studio.theory.demand import CHANGE_TERMS, HAND_SIZES, VOICING_TERMS, hand_travel_mm, press_force

STEEL = INSTRUMENTS["steel-string"]
NECK24 = INSTRUMENTS["electric"].with_(frets=24)
ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]


def placed(shape, root, position=None):
    try:
        return place(shape, root, NECK24, position)
    except OffNeck:
        return place(shape, None, NECK24)


voicings = st.builds(
    placed, st.sampled_from([i for i, s in SHAPES.items() if s.kind != "movable"]), st.sampled_from(ROOTS)
) | st.builds(placed, st.sampled_from([i for i, s in SHAPES.items() if s.kind == "movable"]), st.sampled_from(ROOTS))
hands = st.builds(Hand, st.sampled_from(sorted(HAND_SIZES)), st.floats(8, 24), st.floats(60, 150))


@given(voicings, hands)
def test_terms_add_up_and_are_never_negative(voicing, hand):
    demand = grip_demand(voicing, hand)
    assert set(demand.terms) == set(VOICING_TERMS)
    assert all(term >= 0 for term in demand.terms.values())
    assert float(demand) == demand.total == pytest.approx(sum(demand.terms.values()))
    assert grip_demand(voicing, hand) == demand
    assert demand.terms["fingers"] == len(voicing.pressed)


def columns(voicing, index, fret, finger):
    """The voicing with one string (0 the lowest) held otherwise: fret and finger, None for not played."""

    def put(values, value):
        return tuple(value if i == index else old for i, old in enumerate(values))

    frets = put(voicing.frets, fret)
    midi = tuple(o + f for o, f in zip(voicing.instrument.tuning, frets, strict=True) if f is not None)
    return replace(voicing, frets=frets, fingers=put(voicing.fingers, finger), midi=midi)


@given(voicings, hands, st.data())
def test_one_more_muted_inner_string_never_makes_it_easier(voicing, hand, data):
    """Of the strings that no finger of their own holds: those under a barre, and open ones."""
    sounding = [i for i, fret in enumerate(voicing.frets) if fret is not None]
    fingers = voicing.fingers
    inner = [i for i in sounding[1:-1] if not fingers[i] or fingers.count(fingers[i]) > 1]
    if not inner:
        return
    muted = columns(voicing, data.draw(st.sampled_from(inner)), None, None)
    assert float(grip_demand(muted, hand)) >= float(grip_demand(voicing, hand))


@given(voicings, hands, st.data())
def test_one_more_finger_for_the_same_barre_held_strings_never_makes_it_easier(voicing, hand, data):
    spare = [finger for finger in (2, 3, 4) if finger not in voicing.pressed]
    free = [i for i, finger in enumerate(voicing.fingers) if not finger]
    if not (spare and free):
        return
    fret = data.draw(st.integers(voicing.lowest_fret, voicing.highest_fret))
    more = columns(voicing, data.draw(st.sampled_from(free)), fret, data.draw(st.sampled_from(spare)))
    assert more.barres == voicing.barres
    assert float(grip_demand(more, hand)) >= float(grip_demand(voicing, hand)) - 1e-9


@given(voicings, hands)
def test_a_wider_stretch_never_makes_it_easier(voicing, hand):
    """The finger that stands alone at the highest fret goes one fret further."""
    highest = [i for i, fret in enumerate(voicing.frets) if fret == voicing.highest_fret]
    if len(highest) != 1 or not 0 < voicing.highest_fret < NECK24.frets:
        return
    index = highest[0]
    wider = columns(voicing, index, voicing.highest_fret + 1, voicing.fingers[index])
    assert float(grip_demand(wider, hand)) > float(grip_demand(voicing, hand)) or len(voicing.fingertips) == 1


def index_barre(voicing_or_shape):
    return next((barre for barre in voicing_or_shape.barres if barre.finger == 1), None)


# shapes whose index barre has a string beside it that is not played
LENGTHENABLE = [
    shape.id
    for shape in SHAPES.values()
    if (barre := index_barre(shape)) and barre.from_string < 6 and shape.form.frets[5 - barre.from_string] is None
]


@given(st.builds(placed, st.sampled_from(LENGTHENABLE), st.sampled_from(ROOTS)), hands)
def test_a_longer_barre_never_makes_it_easier(voicing, hand):
    """The index barre reaches over one more string at its lower end."""
    barre = index_barre(voicing)
    index = 5 - barre.from_string
    longer = columns(voicing, index, barre.fret, 1)
    assert float(grip_demand(longer, hand)) > float(grip_demand(voicing, hand))


@given(voicings, hands, st.floats(0, 6), st.floats(0, 40))
def test_wider_fingertips_and_a_shorter_reach_never_make_it_easier(voicing, hand, width, reach):
    wider = Hand(hand.size, hand.tip + width, hand.reach)
    shorter = Hand(hand.size, hand.tip, max(40.0, hand.reach - reach))
    mm = crowding_mm(voicing, hand)
    assert crowding_mm(voicing, wider) >= mm - 1e-9
    assert float(grip_demand(voicing, shorter)) >= float(grip_demand(voicing, hand)) - 1e-9


def crowding_mm(voicing, hand):
    return grip_demand(voicing, hand).terms["crowding"] * hand.tip


@given(voicings, hands)
def test_crowding_and_the_crowded_fret_agree(voicing, hand):
    crowded = crowded_fret(voicing, hand)
    assert (crowded is None) == (grip_demand(voicing, hand).terms["crowding"] == 0)
    if crowded:
        fret, needed, there = crowded
        assert needed > there == pytest.approx(NECK24.fret_space_mm(fret))


@pytest.mark.parametrize(
    ("shape", "root", "terms"),
    [
        ("open-Em", None, {"fingers": 2, "barre": 0, "alone": 0, "damping": 0}),
        ("E-major", "F", {"fingers": 4, "barre": 1.25, "alone": 0.6, "position": 0.7, "damping": 0}),
        ("E-minor", "A", {"fingers": 3, "barre": 1.25, "alone": 0.8, "position": 0}),
        ("A-major-partial", "D", {"fingers": 2, "barre": 1.5, "alone": 0, "damping": 0}),
        ("E-6", "A", {"fingers": 4, "barre": 1.25, "alone": 0.4, "damping": 1}),
        ("A-major", "C", {"joint": 0}),
    ],
)
def test_terms(shape, root, terms):
    found = grip_demand(place(shape, root)).terms
    assert {name: found[name] for name in terms} == pytest.approx(terms, abs=0.005)


def test_past_the_body_joint():
    assert grip_demand(place("A-minor", "C", STEEL, 15)).terms["joint"] == 1.5
    assert grip_demand(place("E-major", "F#", STEEL, 14)).terms["joint"] == 0


@given(voicings, voicings, hands)
def test_a_change_asks_something_unless_nothing_changes(a, b, hand):
    demand = change_demand(a, b, hand)
    assert set(demand.terms) == set(CHANGE_TERMS)
    assert all(term >= 0 for term in demand.terms.values())
    assert change_demand(a, a, hand).total == 0
    if a.fingertips != b.fingertips:
        assert demand.total > 0
    kept = set(a.fingertips.items()) & set(b.fingertips.items())
    assert demand.terms["placed"] == len(set(b.fingertips) - set(a.fingertips))
    assert demand.terms["placed"] + len(kept) <= len(b.fingertips)
    assert hand_travel_mm(a, b) == hand_travel_mm(b, a) >= 0


@pytest.mark.parametrize(
    ("one", "two", "terms"),
    [
        # open C to open Am: two fingers stay, the third crosses two strings (common practice, no source).
        (("open-C", None), ("open-Am", None), {"moved": 0.75 + 0.3, "placed": 0, "lifted": 0, "slid": 0, "travel": 0}),
        (("E-major", "A"), ("E-minor", "A"), {"lifted": 0.25, "moved": 0, "barre": 0, "travel": 0}),
        (("E-major", "A"), ("E-major", "B"), {"slid": 2.0, "moved": 0, "placed": 0, "barre": 0}),
        (("open-E", None), ("E-major", "F"), {"placed": 1.0, "barre": 1.0, "travel": 0}),
        # the barre stays laid while the form moves one string over
        (("E-major", "A"), ("A-minor", "D"), {"moved": 3 * 0.9, "slid": 0, "placed": 0, "barre": 0, "travel": 0}),
    ],
)
def test_changes(one, two, terms):
    found = change_demand(place(*one), place(*two)).terms
    assert {name: found[name] for name in terms} == pytest.approx(terms, abs=0.005)


def test_travel_is_measured_along_the_neck():
    a, b = place("E-major", "G"), place("E-major", "A")
    assert hand_travel_mm(a, b) == pytest.approx(STEEL.fret_distance(5) - STEEL.fret_distance(3))
    assert hand_travel_mm(place("open-C"), place("E-major", "F")) == 0


def test_a_change_stays_on_one_instrument():
    seven = place("E-major", "G", STEEL.with_(tuning="B E A D G B E"))
    with pytest.raises(TheoryError, match="one instrument"):
        change_demand(seven, place("E-major", "G"))


def test_a_capo_brings_the_frets_closer():
    bare, held = place("E-major", "F"), place("E-major", "F", STEEL.with_(capo=5))
    assert grip_demand(held).terms["stretch"] < grip_demand(bare).terms["stretch"]
    assert press_force(STEEL.with_(capo=5))[1] > 0


@pytest.mark.parametrize(
    ("known", "tip", "reach"),
    [
        ({}, 16, 105),
        ({"size": "small"}, 15, 90),
        ({"size": "large"}, 19, 120),
        ({"age": 6}, 13, 70),
        ({"age": 9}, 15, 80),
        ({"age": 12}, 15, 90),
        ({"age": 40}, 16, 105),
        ({"size": "large", "age": 9}, 19, 120),
        ({"age": 9, "reach_mm": 95}, 15, 95),
        ({"fingertip_mm": 17.5}, 17.5, 105),
    ],
)
def test_a_hand_by_what_is_known(known, tip, reach):
    hand = Hand.of(**known)
    assert (hand.tip, hand.reach) == (tip, reach)


@pytest.mark.parametrize(
    "known",
    [
        {"size": "huge"},
        {"size": 3},
        {"age": -1},
        {"age": 121},
        {"age": "9"},
        {"age": 9.5},
        {"fingertip_mm": 0},
        {"fingertip_mm": "16"},
        {"fingertip_mm": float("nan")},
        {"reach_mm": 1000},
        {"reach_mm": True},
    ],
)
def test_hands_that_nobody_has(known):
    with pytest.raises(TheoryError):
        Hand.of(**known)
