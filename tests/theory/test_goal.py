"""A goal's terms: stored as JSON and read back, strictly; and its title."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory import INSTRUMENTS, SHAPES, ChordTerm, Goal, GoalError, TheoryError
from studio.theory.goal import KINDS, MAX_ITEMS, MAX_TEXT

STEEL = INSTRUMENTS["steel-string"]
text = st.text(max_size=MAX_TEXT)
count = st.integers(-1000, 1000)
terms = st.builds(ChordTerm, text, text, st.none() | count)
goals = st.builds(
    Goal,
    kind=st.sampled_from(KINDS),
    chords=st.lists(terms, max_size=3).map(tuple),
    key=st.none() | text,
    own_chords_only=st.booleans(),
    capo=count,
    numerals=st.lists(text, max_size=4).map(tuple),
    shapes=st.lists(st.sampled_from(list(SHAPES)), max_size=3).map(tuple),
    window=st.none() | st.tuples(count, count),
    metre=text,
    beats_per_chord=count,
    string=st.none() | count,
    notes=st.lists(text, max_size=3).map(tuple),
    title=text,
    section=text,
    from_memory=st.booleans(),
    code=text,
)


@given(goals)
def test_terms_are_json_and_read_back_the_same(goal):
    stored = json.loads(json.dumps(goal.to_terms()))
    assert Goal.from_terms(stored) == goal
    assert Goal.from_terms(goal.to_terms()) == goal
    assert hash(Goal.from_terms(stored)) == hash(goal)


def test_usual_values_are_left_out():
    goal = Goal("chord", (ChordTerm("E-minor", "B"),))
    assert goal.to_terms() == {"kind": "chord", "chords": [{"shape": "E-minor", "root": "B"}]}
    assert Goal("roots", string=5).to_terms() == {"kind": "roots", "string": 5}


@pytest.mark.parametrize(
    ("stored", "said"),
    [
        (None, "named values"),
        ([], "named values"),
        ({}, "needs a kind"),
        ({"kind": "scale"}, "kind must be one of"),
        ({"kind": ["chord"]}, "kind must be one of"),
        ({"kind": "chord", "colour": "red"}, "no term 'colour'"),
        ({"kind": "chord", 3: 4}, "no term 3"),
        ({"kind": "chord", "chords": {}}, "chords must be a list"),
        ({"kind": "chord", "chords": ["E-minor"]}, "a shape, a root"),
        ({"kind": "chord", "chords": [{"shape": "E-minor"}]}, "a shape, a root"),
        ({"kind": "chord", "chords": [{"shape": "E-minor", "root": "B", "fret": 7}]}, "a shape, a root"),
        ({"kind": "chord", "chords": [{"shape": "E-minor", "root": 7}]}, "root must be a text"),
        ({"kind": "chord", "chords": [{"shape": "E-minor", "root": "B", "position": "7"}]}, "position must be"),
        ({"kind": "chord", "chords": [{"shape": "E-minor", "root": "B", "position": True}]}, "position must be"),
        ({"kind": "chord", "chords": [{"shape": "E", "root": "B"}] * (MAX_ITEMS + 1)}, "at most 64"),
        ({"kind": "piece", "title": "x" * (MAX_TEXT + 1)}, "at most 200 characters"),
        ({"kind": "piece", "title": None}, "title must be"),
        ({"kind": "piece", "from_memory": "yes"}, "true or false"),
        ({"kind": "chord", "capo": 2.0}, "capo must be a whole number"),
        ({"kind": "chord", "capo": 10**9}, "up to 1000"),
        ({"kind": "progression", "window": [1]}, "two frets"),
        ({"kind": "progression", "window": "15"}, "window must be a list"),
        ({"kind": "progression", "numerals": "I vi IV V"}, "numerals must be a list"),
        ({"kind": "progression", "numerals": [1]}, "numerals must be a text"),
    ],
)
def test_malformed_terms(stored, said):
    with pytest.raises(GoalError, match=said):
        Goal.from_terms(stored)


def test_an_error_names_its_term():
    with pytest.raises(GoalError) as caught:
        Goal.from_terms({"kind": "progression", "beats_per_chord": "four"})
    assert caught.value.values["field"] == "beats_per_chord"


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@given(st.dictionaries(st.sampled_from(["kind", "chords", "key", "capo", "window", "numerals", "x"]), json_values))
def test_any_json_is_a_goal_or_a_theory_error(stored):
    try:
        goal = Goal.from_terms(stored)
    except TheoryError:
        return
    assert Goal.from_terms(goal.to_terms()) == goal


@pytest.mark.parametrize(
    ("goal", "title"),
    [
        (Goal("chord", (ChordTerm("E-minor", "B"),)), "Bm, E-shape at 7"),
        (Goal("chord", (ChordTerm("open-C", "C"),), capo=2), "C, open, capo 2"),
        (Goal("chord", (ChordTerm("E-minor", "H"),)), "H, E-shape minor"),
        (Goal("chord"), "Untitled"),
        (Goal("change", (ChordTerm("open-D", "D"), ChordTerm("E-minor", "B"))), "D to Bm"),
        (Goal("progression", key="G", numerals=("I", "vi", "IV", "V")), "G: I vi IV V"),
        (Goal("progression", numerals=("G", "Em")), "G Em"),
        (Goal("roots", string=5), "Roots, 5th string"),
        (Goal("roots"), "Roots, string None"),
        (Goal("piece", title="Evening song", section="second half"), "Evening song, second half"),
        (Goal("piece", title="Evening song", capo=3), "Evening song"),
    ],
)
def test_titles(goal, title):
    assert goal.title_text(STEEL) == title


def test_a_title_is_that_of_the_instrument():
    goal = Goal("chord", (ChordTerm("E-minor", "B"),))
    assert goal.title_text(STEEL.with_(tuning="Eb Ab Db Gb Bb Eb")) == "Bm, E-shape at 8"


def test_changed_goals():
    goal = Goal("change", (ChordTerm("open-D", "D"), ChordTerm("E-minor", "B")))
    other = goal.with_chord(1, ChordTerm("A-minor", "B"))
    assert other.chords == (ChordTerm("open-D", "D"), ChordTerm("A-minor", "B"))
    assert goal.with_(capo=2).on(STEEL).capo == 2
    assert goal.on(STEEL) is STEEL
    with pytest.raises(GoalError):
        goal.with_(fret=3)
    assert ChordTerm("A-minor", "B").voicing(STEEL).position == 2
