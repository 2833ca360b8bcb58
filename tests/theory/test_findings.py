"""Validation of a goal: every error and caution, said as a teacher would, each with a way out that works."""

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory import (
    CODES,
    INSTRUMENTS,
    SHAPES,
    ChordTerm,
    Context,
    Finding,
    Goal,
    Hand,
    InstrumentError,
    NoRoute,
    Note,
    TheoryError,
    arrange,
    place,
    validate,
)
from studio.theory.pitch import MAJOR_ROOTS
from studio.theory.voicing import positions

STEEL = INSTRUMENTS["steel-string"]
CLASSICAL = INSTRUMENTS["classical"]
DROPPED = STEEL.with_(tuning="D A D G B E")
NEW = Context(new_to_barres=True)
HURT = Context(open_hand_note=True)


def chord(shape, root, position=None, **terms):
    return Goal("chord", (ChordTerm(shape, root, position),), **terms)


def codes(goal, *args, **kwargs):
    return [finding.code for finding in validate(goal, *args, **kwargs)]


def only(goal, *args, **kwargs):
    findings = validate(goal, *args, **kwargs)
    assert len(findings) == 1, [finding.message for finding in findings]
    return findings[0]


def labels(finding):
    return [way.label for way in finding.ways_out]


@pytest.mark.parametrize(
    "goal",
    [
        chord("E-minor", "B"),
        chord("open-C", "C"),
        chord("E-minor", "B", key="D"),
        chord("A-major-partial", "D", 5, key="G", own_chords_only=True),
        chord("E-major", "E", key="Am"),  # V of A minor is its own
        Goal("change", (ChordTerm("open-D", "D"), ChordTerm("E-minor", "B")), key="D"),
        Goal("progression", key="G", numerals=("I", "vi", "IV", "V")),
        Goal("progression", numerals=("G", "Em7", "D/F#")),
        Goal("roots", string=6),
        Goal("roots", string=5, notes=("naturals",)),
        Goal("roots", string=5, notes=("C", "F#")),
        Goal("piece", title="Evening song"),
    ],
    ids=lambda goal: goal.title_text(),
)
def test_goals_with_nothing_to_say(goal):
    assert validate(goal, STEEL) == []


# goal, instrument, hand, context -> code, a part of the message, labels of the ways out
CASES = [
    (chord("E-major", "H"), {}, "root-unknown", "H is not a note", ["Use B"]),
    (chord("E-major", ""), {}, "root-unknown", "An empty field is not a note", []),
    (chord("E-maj", "B"), {}, "shape-unknown", "E-maj is not a shape", []),
    (chord("E-major", "B", -2), {}, "position", "-2 is not a fret", ["Let the shape find its fret"]),
    (
        chord("E-major", "B"),
        {"instrument": DROPPED},
        "tuning-breaks-shape",
        "E-shape major is lost in the tuning D A D G B E, because it uses the 6th string, now D",
        ["Use B, A-shape at 2"],
    ),
    (
        chord("E-major", "E"),
        {"instrument": STEEL.with_(frets=12)},
        "past-last-fret",
        "would reach fret 14; the neck ends at 12",
        ["Use E, open"],
    ),
    (
        chord("E-major", "B", 5),
        {},
        "position-root",
        "At fret 5 this shape gives A; B is at fret 7",
        ["Use B, E-shape at 7"],
    ),
    (chord("open-C", "D"), {}, "open-form", "The open C with its open strings gives C, not D", ["Use D, open"]),
    (chord("E-major", "B", capo=18), {}, "capo", "A capo at 18", ["Take the capo off"]),
    (chord("E-major", "B", key="H minor"), {}, "key-unknown", "H minor is not a key", []),
    (
        chord("E-major", "C#", key="D", own_chords_only=True),
        {},
        "not-own-chord",
        "C# is not one of D major's own chords",
        ["Allow other chords too"],
    ),
    (chord("E-major", "F", 1, key="G"), {}, "borrowed", "F is not in G major: it is borrowed from G minor", []),
    (chord("E-major", "C#", key="D"), {}, "outside-key", "C# is not in D major", []),
    (
        chord("A-minor", "C", 15),
        {"instrument": CLASSICAL},
        "past-joint",
        "Cm stands at fret 15, beyond the body joint at 12",
        ["Use Cm, A-shape at 3", "Use Cm, C-shape at 12"],
    ),
    (
        chord("A-major", "F"),
        {"hand": Hand("large")},
        "crowded",
        "Three fingertips in fret 10 need about 34 mm together; that fret has 22 mm",
        ["Use the partial barre"],
    ),
    (
        chord("E-major", "F"),
        {"context": NEW},
        "first-barre-low",
        "Fret 1 is a hard place for a first barre (F); frets 5 to 7 are easier",
        ["Use F, small form", "Start with A, E-shape at 5"],
    ),
    (
        chord("A-minor", "B"),
        {"context": NEW},
        "first-barre-low",
        "Fret 2 is a hard place",
        ["Use Bm, E-shape at 7", "Use Bm, small form", "Start with Dm, A-shape at 5"],
    ),
    (
        chord("C-major", "C#"),
        {"hand": Hand.of(age=9)},
        "stretch",
        "C# here spans 4 frets (97 mm); this hand reaches 80 mm in comfort",
        ["Use C#, A-shape at 4", "Use C#, A-shape at 4 (partial barre)"],
    ),
    (
        chord("E-minor", "B"),
        {"context": Context(active_goals=(chord("E-minor", "B", 7, title="first barre"),))},
        "duplicate",
        "Bm, E-shape at 7 is already an active goal",
        ["Use Cm, E-shape at 8"],
    ),
    (chord("E-major", "A#", key="F"), {}, "respell", "F major writes this chord as Bb, not A#", ["Write Bb"]),
    (chord("E-major", "A#"), {}, "odd-spelling", "Written as A# this chord has C## in it", ["Write Bb"]),
    (
        chord("E-major", "F"),
        {"context": HURT},
        "open-hand-note",
        "There is an open hand note: ask how the hand is before setting F, E-shape at 1",
        ["Use the lighter F, small D form at 5"],
    ),
    (Goal("scale"), {}, "kind-unknown", "scale is no kind of goal", []),
    (Goal("chord"), {}, "chords-missing", "Choose one chord", []),
    (Goal("change", (ChordTerm("open-C", "C"),)), {}, "chords-missing", "Choose two chords", []),
    (
        Goal("change", (ChordTerm("E-minor", "B"), ChordTerm("E-minor", "B", 7))),
        {},
        "change-same",
        "both are Bm, E-shape at 7",
        [],
    ),
    (Goal("progression", key="G"), {}, "numerals-missing", "Write the progression", []),
    (
        Goal("progression", key="G", numerals=("I", "VIII")),
        {},
        "numeral-unknown",
        "VIII cannot be read in G major",
        [],
    ),
    (Goal("progression", numerals=("I",)), {}, "key-missing", "I is a numeral: choose a key", []),
    (Goal("progression", numerals=("G9",)), {}, "no-shape", "No shape in the catalogue gives G9", []),
    (
        Goal("progression", key="G", numerals=("I", "V"), shapes=("E-major",), window=(1, 5)),
        {},
        "no-place",
        "D cannot be had with the shapes chosen between frets 1 and 5",
        ["Use the whole neck", "Allow every shape"],
    ),
    (
        Goal("progression", key="G", numerals=("I",), shapes=("E-major", "E-fancy")),
        {},
        "shape-unknown",
        "E-fancy is not a shape",
        ["Leave it out"],
    ),
    (
        Goal("progression", numerals=("G",), window=(7, 2)),
        {},
        "window",
        "from a lower to a higher",
        ["Use the whole neck"],
    ),
    (Goal("progression", numerals=("G",), metre="four"), {}, "metre", "four is not a metre", ["Use 4/4"]),
    (Goal("progression", numerals=("G",), beats_per_chord=0), {}, "beats", "1 to 32 beats", ["Use 4 beats"]),
    (Goal("roots"), {}, "string", "Choose a string from 1 to 6", []),
    (Goal("roots", string=7), {}, "string", "Choose a string from 1 to 6", []),
    (Goal("roots", string=6, notes=("C", "H")), {}, "note-unknown", "H is not a note", ["Leave it out"]),
    (Goal("piece", title="  "), {}, "title-missing", "a name", []),
]


@pytest.mark.parametrize(("goal", "given", "code", "said", "ways"), CASES, ids=[case[2] for case in CASES])
def test_each_finding(goal, given, code, said, ways):
    finding = only(goal, **{"instrument": STEEL, **given})
    assert finding.code == code
    assert said in finding.message
    assert labels(finding) == ways
    assert (
        finding.message[0].isupper()
        or finding.message[0].isdigit()
        or not finding.message[0].isalpha()
        or (
            finding.code in ("kind-unknown", "metre")  # these begin with what was typed
        )
    )
    assert finding.message.endswith(".")


def test_every_code_has_a_case():
    assert {case[2] for case in CASES} | {"off-neck"} == set(
        CODES
    )  # off-neck is for reasons without words of their own


@pytest.mark.parametrize(("goal", "given", "code", "said", "ways"), CASES, ids=[case[2] for case in CASES])
def test_a_way_out_is_a_way_out(goal, given, code, said, ways):
    """Taking it removes the finding and brings no error."""
    for way in only(goal, **{"instrument": STEEL, **given}).ways_out:
        after = validate(way.goal, **{"instrument": STEEL, **given})
        gone = [f.code for f in after if f.code == code and code != "open-hand-note"]
        errors = [f.message for f in after if f.is_error and f.code not in ("no-place",)]
        assert not gone or code == "no-place", way.label
        assert not errors, way.label


def test_templates_and_values_fit():
    for code, (level, field, template) in CODES.items():
        assert level in ("error", "caution")
        assert field
        assert template
        for _, name, _, _ in string.Formatter().parse(template):
            assert name is None or name.isidentifier(), code


def test_errors_come_first():
    goal = Goal("change", (ChordTerm("E-major", "A#"), ChordTerm("E-major", "H")), key="F")
    assert [finding.level for finding in validate(goal, STEEL)] == ["error", "caution"]
    assert [finding.chord for finding in validate(goal, STEEL)] == [1, 0]


def test_both_chords_of_a_change_are_looked_at():
    goal = Goal("change", (ChordTerm("E-major", "F"), ChordTerm("A-minor", "B")))
    found = validate(goal, STEEL, context=NEW)
    assert [(finding.code, finding.chord) for finding in found] == [("first-barre-low", 0), ("first-barre-low", 1)]
    way = found[1].way_out.goal
    assert way.chords[0] == goal.chords[0]
    assert way.chords[1] != goal.chords[1]


def test_a_caution_depends_on_who_plays():
    crowded = chord("A-major", "D")
    assert codes(crowded, STEEL, Hand("small")) == []
    assert codes(crowded, STEEL, Hand("large")) == ["crowded"]
    assert codes(chord("E-major", "F"), STEEL) == []
    assert codes(chord("small-F", "F"), STEEL, context=NEW) == []
    assert codes(chord("E-major", "A"), STEEL, context=NEW) == []
    assert codes(chord("C-major", "C#"), STEEL, Hand("large")) == []


def test_a_capo_brings_the_chord_nearer_the_body():
    assert codes(chord("A-minor", "C", 15), "electric") == []
    assert codes(chord("A-minor", "C", 15, capo=5), "electric") == ["past-joint"]
    low = chord("E-major", "A", capo=7)
    assert codes(low, CLASSICAL) == []
    assert codes(chord("E-major", "B", capo=7), CLASSICAL) == ["past-joint"]  # 7 + 7 is past 12


def test_an_instrument_keeps_its_own_capo():
    assert codes(chord("E-major", "B"), CLASSICAL.with_(capo=7)) == ["past-joint"]


def test_a_goal_is_no_duplicate_of_itself():
    mine = chord("E-minor", "B", code="a1")
    assert codes(mine, STEEL, context=Context(active_goals=(mine,))) == []
    other = chord("E-minor", "B", code="b2")
    assert codes(mine, STEEL, context=Context(active_goals=(other,))) == ["duplicate"]


@pytest.mark.parametrize(
    ("one", "two", "same"),
    [
        (chord("E-major", "Bb"), chord("E-major", "A#"), True),
        (chord("E-major", "Bb"), chord("E-major", "Bb", key="F"), True),
        (chord("E-major", "Bb"), chord("A-major", "Bb"), False),
        (chord("E-major", "G"), chord("E-major", "G", 15), False),
        (chord("E-major", "G"), chord("E-major", "G", capo=2), False),
        (Goal("roots", string=5), Goal("roots", string=5, title="again"), True),
        (Goal("roots", string=5), Goal("roots", string=6), False),
        (Goal("piece", title="Evening song"), Goal("piece", title=" evening song "), True),
        (Goal("piece", title="Evening song"), Goal("piece", title="Evening song", section="end"), False),
        (Goal("progression", numerals=("G", "D")), Goal("progression", numerals=("G", "D")), True),
        (Goal("progression", numerals=("G", "D")), Goal("progression", numerals=("D", "G")), False),
    ],
)
def test_what_is_the_same_work(one, two, same):
    assert ("duplicate" in codes(one, STEEL, context=Context(active_goals=(two,)))) is same


def test_the_next_root_is_not_one_that_is_set_already():
    active = (chord("E-minor", "B"), chord("E-minor", "C"))
    assert labels(only(chord("E-minor", "B"), STEEL, context=Context(active_goals=active))) == ["Use Dm, E-shape at 10"]


def test_a_hand_note_has_no_bearing_on_pieces_and_roots():
    assert codes(Goal("roots", string=5), STEEL, context=HURT) == []
    assert codes(Goal("piece", title="Reading"), STEEL, context=HURT) == []
    assert codes(Goal("progression", numerals=("G",)), STEEL, context=HURT) == ["open-hand-note"]


def test_a_hand_note_never_names_a_condition():
    text = CODES["open-hand-note"][2].lower()
    assert not any(word in text for word in ("injur", "strain", "tend", "syndrome", "diagnos", "pain"))


@pytest.mark.parametrize("window", [None, (1, 5), (2, 6), (5, 9), (0, 3)])
@pytest.mark.parametrize("shapes", [(), ("E-major", "E-minor"), ("E-major", "A-major", "A-minor", "E-minor")])
@pytest.mark.parametrize("numerals", [("I", "vi", "IV", "V"), ("I", "bVII", "IV"), ("Gsus2", "D/F#"), ("G9",)])
def test_validate_and_arrange_agree(numerals, shapes, window):
    """A progression has an error exactly when no route carries it."""
    goal = Goal("progression", key="G", numerals=numerals, shapes=shapes, window=window)
    try:
        arrange(numerals, "G", shapes, STEEL, window=window, count=1)
    except NoRoute:
        assert set(codes(goal, STEEL)) & {"no-place", "no-shape"}
    else:
        assert not [finding for finding in validate(goal, STEEL) if finding.is_error]


def test_a_barre_that_a_progression_forces_on_a_beginner():
    forced = Goal("progression", numerals=("F", "G"), shapes=("E-major",), window=(1, 5))
    assert codes(forced, STEEL, context=NEW) == ["first-barre-low"]  # G is at 3
    assert "(F)" in only(forced, STEEL, context=NEW).message
    free = Goal("progression", numerals=("F", "G"))
    assert codes(free, STEEL, context=NEW) == []


def test_an_instrument_that_is_none_is_the_callers_mistake():
    with pytest.raises(InstrumentError):
        validate(chord("E-major", "F"), "lute")


@given(
    st.sampled_from([s.id for s in SHAPES.values() if s.kind == "movable"]),
    st.integers(1, 12),
    st.sampled_from(sorted(INSTRUMENTS)),
)
def test_every_placed_shape_can_be_set(shape, position, preset):
    neck = INSTRUMENTS[preset]
    found = [p for p in all_roots(shape, neck) if p.position == position]
    for voicing in found:
        goal = chord(shape, str(voicing.root), position)
        assert not [finding for finding in validate(goal, neck) if finding.is_error]


def all_roots(shape, neck):
    for root in MAJOR_ROOTS:
        yield from positions(SHAPES[shape], Note(root), neck)


anything = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=6), st.lists(st.integers(), max_size=3)
)
chord_terms = st.builds(
    ChordTerm,
    st.one_of(st.sampled_from(list(SHAPES)), anything),
    st.one_of(st.sampled_from(["C", "F#", "Bb", "Fb", "B##", "H"]), anything),
    st.one_of(st.integers(-2, 30), anything),
)
any_goal = st.builds(
    Goal,
    kind=st.one_of(st.sampled_from(["chord", "change", "progression", "roots", "piece"]), anything),
    chords=st.one_of(st.lists(chord_terms, max_size=3).map(tuple), anything),
    key=st.one_of(st.sampled_from(["G", "A minor", "F#m", "H"]), anything),
    own_chords_only=anything,
    capo=st.one_of(st.integers(0, 7), anything),
    numerals=st.one_of(
        st.lists(st.one_of(st.sampled_from(["I", "bVII", "V7", "Am7", "D/F#"]), anything), max_size=4), anything
    ),
    shapes=st.one_of(st.lists(st.one_of(st.sampled_from(list(SHAPES)), anything), max_size=3).map(tuple), anything),
    window=st.one_of(st.tuples(st.integers(-1, 25), st.integers(-1, 25)), anything),
    metre=st.one_of(st.sampled_from(["4/4", "6/8"]), anything),
    beats_per_chord=anything,
    string=st.one_of(st.integers(1, 6), anything),
    notes=st.one_of(st.lists(st.one_of(st.sampled_from(["C", "naturals"]), anything), max_size=3).map(tuple), anything),
    title=anything,
    section=anything,
    code=anything,
)


necks = st.sampled_from([STEEL, DROPPED, STEEL.with_(frets=12, capo=7), STEEL.with_(tuning="D G B E")])


@given(any_goal, any_goal, st.booleans(), necks)
def test_no_goal_makes_it_raise(goal, other, flag, neck):
    found = validate(goal, neck, context=Context(flag, flag, (other, goal)))
    for finding in found:
        assert isinstance(finding, Finding)
        assert finding.message
        assert finding.code in CODES
        for way in finding.ways_out:
            assert way.label
            assert isinstance(way.goal, Goal)
    assert goal.title_text(neck)


def test_small_forms_on_a_neck_too_short_for_anything_else():
    neck = STEEL.with_(frets=12, capo=7)
    for shape in SHAPES:
        for root in MAJOR_ROOTS:
            for position in (None, 0, 1):
                assert validate(chord(shape, root, position), neck, context=Context(True, True)) is not None


def test_place_is_what_is_validated():
    """An error about a chord exactly when it cannot be placed."""
    for shape in SHAPES:
        for root in ("C", "F#", "Bb"):
            for position in (None, 0, 3, 8):
                try:
                    place(shape, root, DROPPED, position)
                    placed = True
                except TheoryError:
                    placed = False
                errors = [f for f in validate(chord(shape, root, position), DROPPED) if f.is_error]
                assert bool(errors) != placed
