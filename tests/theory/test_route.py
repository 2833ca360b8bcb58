"""Routes: exact against trying every combination, within windows, and a clear answer where there is none."""

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.theory.chords import ChordSymbolError, read_chord
from studio.theory.demand import Hand, change_demand, grip_demand, hand_travel_mm
from studio.theory.errors import TheoryError
from studio.theory.instrument import INSTRUMENTS
from studio.theory.keys import KEYS, Key, NumeralError
from studio.theory.neck import places, within
from studio.theory.route import MM_PER_UNIT, NoRoute, arrange, read_step
from studio.theory.shapes import SHAPES
from studio.theory.voicing import place

STEEL = INSTRUMENTS["steel-string"]
BARRES = ["E-major", "E-minor", "A-major", "A-minor"]
SMALL_HAND = Hand("small")


def by_trying_everything(symbols, shapes, instrument, hand, window):
    """The costs of all combinations, least first: the stated cost, written out anew."""
    choices = []
    for symbol in symbols:
        chord = read_chord(symbol)
        found = [p.voicing for p in places(chord.root, chord.quality, instrument, hand)]
        found = [v for v in found if v.shape in shapes]
        if window is None:
            found = [v for v in found if not v.past_joint] or found
        else:
            found = [v for v in found if within(v, window)]
        choices.append(found)
    costs = []
    for way in product(*choices):
        cost = sum(grip_demand(voicing, hand).total for voicing in way)
        for a, b in pairwise(way):
            terms = change_demand(a, b, hand).terms
            cost += sum(value for name, value in terms.items() if name != "travel")
            cost += hand_travel_mm(a, b) / MM_PER_UNIT
        costs.append(cost)
    return sorted(costs)


SYMBOLS = st.lists(
    st.sampled_from(["C", "Dm", "Em", "F", "G", "Am", "Bm", "F#m", "Bb", "Eb", "D", "A"]), min_size=1, max_size=4
)


@settings(max_examples=120, deadline=None)
@given(
    SYMBOLS,
    st.sampled_from(["steel-string", "classical", "three-quarter"]),
    st.sampled_from([Hand(), SMALL_HAND]),
    st.none() | st.tuples(st.integers(0, 4), st.integers(8, 14)),
    st.integers(1, 6),
)
def test_the_search_equals_trying_every_combination(symbols, instrument, hand, window, count):
    shapes = [*BARRES, "open-C", "open-G", "open-Em", "open-Am", "open-D", "open-A", "D-minor", "A-major-partial"]
    expected = by_trying_everything(symbols, shapes, instrument, hand, window)
    if not expected:
        with pytest.raises(NoRoute):
            arrange(symbols, None, shapes, instrument, hand, window, count)
        return
    routes = arrange(symbols, None, shapes, instrument, hand, window, count)
    assert [route.cost for route in routes] == pytest.approx(expected[:count], abs=1e-9)
    assert len({route.voicings for route in routes}) == len(routes)
    for route in routes:
        assert [voicing.symbol for voicing in route.voicings] == symbols
        assert sum(route.terms.values()) == pytest.approx(route.cost)


def titles(route):
    return [voicing.title for voicing in route.voicings]


def test_barre_shapes_walk_up_the_neck():
    # G at 3 and A-shape C at 3 beside it, D at 5, E minor at 7: positions of FACTS.md section 1 (common practice)
    best = arrange(["I", "V", "vi", "IV"], "G", BARRES, window=(1, 10))[0]
    assert titles(best) == ["G, E-shape at 3", "D, A-shape at 5", "Em, A-shape at 7", "C, E-shape at 8"]
    assert best.window == (3, 10)
    assert best.travel_mm == pytest.approx(STEEL.fret_distance(8) - STEEL.fret_distance(3))


def test_without_shapes_the_usual_fingerings_are_taken():
    best = arrange(["C", "Am", "F", "G"])[0]
    assert titles(best)[:2] == ["C, open", "Am, open"]
    assert best.stays >= 2  # first and second finger stay from C to A minor
    assert all(not SHAPES[voicing.shape].variant for voicing in best.voicings)
    assert all(not voicing.past_joint for voicing in best.voicings)


def test_a_finger_that_stays_is_counted():
    route = arrange(["C", "Am"], shapes=["open-C", "open-Am"])[0]
    assert route.stays == 2
    assert len(route.changes) == 1
    assert arrange(["Am", "Am"], shapes=["open-Am"])[0].changes[0].total == 0


def test_a_window_keeps_every_finger_inside():
    for route in arrange(["I", "IV", "V"], "A", window=(4, 9), count=10):
        low, high = route.window
        assert 4 <= low <= high <= 9
        assert all(0 not in voicing.frets for voicing in route.voicings)
    assert within(place("open-C"), (1, 3))
    assert not within(place("open-C"), (2, 5))


def test_no_way_is_said_with_the_chord_and_the_nearest_place():
    with pytest.raises(NoRoute) as caught:
        arrange(["I", "V", "vi", "IV"], "G", BARRES, window=(2, 8))
    error = caught.value
    assert (error.index, error.chord) == (2, "Em")
    assert str(error) == (
        "Em (chord 3) has no place between frets 2 and 8 with the shapes allowed. Nearest: Em, A-shape at 7."
    )
    with pytest.raises(NoRoute, match=r"No shape of the catalogue gives C7#9 \(chord 2\)") as caught:
        arrange(["C", "C7#9"])
    assert caught.value.way_out == ""


def test_another_bass_takes_only_voicings_with_it_lowest():
    with pytest.raises(NoRoute) as caught:
        arrange(["G", "D/E"])
    assert caught.value.chord == "D/E"
    assert str(arrange(["D/F#"])[0].voicings[0].bass) == "F#"
    assert arrange(["C/G"])[0].voicings[0].bass.pitch_class == 7  # the small C has G lowest


def test_steps_are_numerals_in_the_key_or_symbols():
    assert [read_step(text, "D").symbol for text in ("I", "bVII", "b7", "F#m7", "V/V", "#ivø")] == [
        "D",
        "C",
        "B7",
        "F#m7",
        "E",
        "G#m7b5",
    ]
    assert [c.symbol for c in arrange(["i", "bVII", "Dm", "V7"], "A minor")[0].chords] == ["Am", "G", "Dm", "E7"]
    with pytest.raises(TheoryError, match="needs a key"):
        arrange(["I", "V"])
    with pytest.raises(NumeralError):
        arrange(["IX"], "C")
    with pytest.raises(ChordSymbolError):
        arrange(["C", "H7"], "C")


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_every_key_can_be_walked_within_its_neck(key):
    names = ["I", "IV", "V7"] if key.mode == "major" else ["i", "iv", "V7"]
    best = arrange(names, key, instrument="three-quarter", hand=SMALL_HAND)[0]
    assert [v.root for v in best.voicings] == [key.numeral(name).root for name in names]


@pytest.mark.parametrize(
    "arguments",
    [
        {"steps": []},
        {"steps": "C G"},
        {"steps": None},
        {"steps": [None]},
        {"steps": ["C"] * 257},
        {"shapes": ["Z-major"]},
        {"shapes": 5},
        {"window": (5, 3)},
        {"window": (0, 99)},
        {"window": (1,)},
        {"window": "1-5"},
        {"window": (None, 3)},
        {"count": 0},
        {"count": 51},
        {"count": True},
        {"key": "H"},
        {"instrument": "banjo"},
        {"hand": "big"},
    ],
    ids=str,
)
def test_what_makes_no_sense_raises_theory_errors(arguments):
    with pytest.raises(TheoryError):
        arrange(**({"steps": ["C", "G"]} | arguments))


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.text(max_size=6) | st.sampled_from(["I", "C", "V7", "Am"]) | st.none(), max_size=4),
    st.none() | st.text(max_size=6) | st.sampled_from([Key("C"), "G"]),
    st.none() | st.lists(st.sampled_from(sorted(SHAPES)) | st.text(max_size=5), max_size=2),
    st.none() | st.tuples(st.integers(-2, 25), st.integers(-2, 25)),
)
def test_bad_input_raises_theory_errors_only(steps, key, shapes, window):
    try:
        arrange(steps, key, shapes, "electric", window=window)
    except TheoryError:
        return
