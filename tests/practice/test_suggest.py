"""What comes next: the teaching order and its borders, the guards, terms that add up; what one change
changes.
"""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from practice.suggest import RUNGS, in_turn, next_chords, word
from practice.words import say
from studio import theory
from tests.practice.plain import TODAY, ago, chord, entry, facts, goal, mark, note

OPEN = [("open-Em", "E"), ("open-A", "A"), ("open-D", "D"), ("open-G", "G"), ("open-E", "E"), ("open-Am", "A"),
        ("open-C", "C"), ("open-Dm", "D")]  # fmt: skip
BARRE_5, BARRE_3, BARRE_2 = ("E-major", "A", 5), ("E-major", "G", 3), ("E-major", "F#", 2)


def done(shape: str, root: str, position: int | None = None, **over):
    """A chord goal that is secure."""
    marks = (mark(ago(9), 6), mark(ago(7), 6, check=True))
    given = {"code": f"{shape} {root} {position}", "theory": chord(shape, root, position), "marks": marks}
    return goal(**(given | {"target": 5} | over))


def opened(*more):
    return tuple(done(shape, root) for shape, root in OPEN) + more


def progression(key="G", numerals=("I", "vi", "IV", "V"), **over):
    terms = theory.Goal("progression", key=key, numerals=numerals)
    return goal("tempo", 72, **({"kind": "progression", "code": "in " + key, "theory": terms, "title": key} | over))


def titles(student, count=3):
    return [one.title for one in next_chords(student, TODAY, count)]


def shapes(student):
    return {voicing.shape for voicing in in_turn(student, TODAY)}


# -- the teaching order (common practice, no source) --------------------------------------------------------------


def test_a_beginner_gets_open_chords_the_easiest_first():
    assert titles(facts()) == ["Em, open", "D, open", "G, open"]
    assert all(theory.SHAPES[shape].kind == "open" for shape in shapes(facts()))
    assert "open-E-no-index" not in shapes(facts())
    assert "open-E-no-index" in shapes(facts(goals=(done("open-E", "E"),)))


def test_a_child_gets_small_forms_and_never_a_barre():
    child = facts(age=8, hand=theory.Hand.of(age=8))
    assert titles(child)[:2] == ["G, small form", "C, small form"]
    able = replace(child, goals=opened(done(*BARRE_5)))
    assert not any(voicing.has_barre for voicing in in_turn(able, TODAY))


# what is secure; a shape that opens with it; a shape that stays shut
@pytest.mark.parametrize(
    ("secure", "comes", "waits"),
    [
        (opened(), "open-E-no-index", "E-minor"),
        (opened(), "small-F", "A-minor"),
        (opened(), "E-major", "E-7"),
        (opened(done(*BARRE_5)), "E-minor", "A-major-partial"),
        (opened(done(*BARRE_5)), "A-minor", "E-7"),
        (opened(done(*BARRE_5)), "E-major", "small-F"),
        (opened(done(*BARRE_5), done("E-minor", "A", 5)), "A-major-partial", "A-7"),
        (opened(done(*BARRE_5), done("E-minor", "A", 5), done("A-minor", "D", 5)), "E-7", "A-7"),
        (opened(done(*BARRE_5), done("E-minor", "A", 5), done("A-minor", "D", 5)), "A-m7", "E-maj7"),
    ],
)
def test_a_rung_opens_when_what_it_stands_on_is_secure(secure, comes, waits):
    found = shapes(facts(goals=secure))
    assert comes in found
    assert waits not in found


# secure barres, lowest fret of a barre suggested
@pytest.mark.parametrize(
    ("barres", "lowest"),
    [
        ((), 5),
        ((BARRE_5,), 3),
        ((("E-major", "C", 8),), 3),
        ((BARRE_5, BARRE_3), 2),
        ((BARRE_5, BARRE_3, BARRE_2), 1),
    ],
)
def test_down_the_neck_one_step_at_a_time(barres, lowest):
    student = facts(goals=opened(*(done(*one) for one in barres)))
    found = [voicing.position for voicing in in_turn(student, TODAY) if voicing.has_barre]
    assert min(found) == lowest


def test_the_step_down_is_among_the_three():
    assert "G, E-shape at 3" in titles(facts(goals=opened(done(*BARRE_5))))
    assert "F#, E-shape at 2" in titles(facts(goals=opened(done(*BARRE_5), done(*BARRE_3))))
    all_three = facts(goals=opened(done(*BARRE_5), done(*BARRE_3), done(*BARRE_2), progression("C")))
    assert titles(all_three)[0] == "F, E-shape at 1"


known = st.lists(
    st.sampled_from(
        [("E-major", root, None) for root in "FGABCDE"]
        + [("E-minor", root, None) for root in "FGAB"]
        + [("A-minor", root, None) for root in "BCDE"]
        + [("A-major-partial", "D", 5), ("A-7", "B", 2)]
        + [(shape, root, None) for shape, root in OPEN]
    ),
    max_size=8,
    unique=True,
)


@settings(max_examples=60)
@given(
    known, st.sampled_from([None, "G", "C", "F", "Eb", "B minor"]), st.sampled_from([8, 12, 40, None]), st.booleans()
)
def test_never_a_first_barre_below_fret_5_and_none_at_fret_1_before_2_or_3(secure, key, age, small):
    goals = tuple(done(*one) for one in secure) + ((progression(key),) if key else ())
    student = facts(goals=goals, age=age, hand=theory.Hand("small" if small else "medium"))
    barres = [one.theory.chords[0].voicing() for one in goals if one.kind == "chord"]
    positions = [voicing.position for voicing in barres if voicing.has_barre]
    asked = in_turn(student, TODAY)
    assert {one.voicing for one in next_chords(student, TODAY, 99)} <= set(asked)
    for voicing in asked:
        if voicing.has_barre:
            if not positions:
                assert 5 <= voicing.position <= 7
            if voicing.position == 1:
                assert min(positions) <= 2
            if voicing.position < 5:
                assert positions


# -- what the keys ask --------------------------------------------------------------------------------------------


def test_what_a_progression_asks_for_comes_first():
    student = facts(goals=opened(done(*BARRE_5), progression("A", ("I", "vi", "ii", "V"))))
    best = next_chords(student, TODAY)[0]
    assert best.voicing.symbol in ("F#m", "Bm")
    assert best.reasons[0].code == "suggest-progression"
    assert say(best.reasons[0]) == f"A asks for {best.voicing.symbol}."


def test_the_one_chord_that_completes_a_key():
    student = facts(goals=opened(done(*BARRE_5), goal(code="g", theory=chord("open-G", "G", 0, key="G"))))
    found = {one.voicing.symbol: one for one in next_chords(student, TODAY, 30)}
    assert found["Bm"].reasons[0].values == {"symbol": "Bm", "key": "G major", "of": 6}
    assert found["Bm"].terms["key"] == 3.0


def test_a_root_is_spelled_as_the_key_spells_it():
    student = facts(goals=opened(done(*BARRE_5), progression("Db", ("I", "IV"))))
    roots = {str(voicing.root) for voicing in in_turn(student, TODAY)}
    assert "Db" in roots
    assert "C#" not in roots


def test_a_measured_progression_counts_for_its_own_chords():
    silent = facts(goals=(progression(),))
    played = facts(goals=(progression(marks=(mark(ago(2), 60, measure="tempo"),)),))
    assert "Em, open" in titles(silent, 30)
    assert "Em, open" not in titles(played, 30)


def test_who_works_on_movable_shapes_is_taken_to_have_the_open_chords():
    student = facts(goals=(goal(theory=chord("E-minor", "B", 7)),))
    assert not any(shape in RUNGS and shape.startswith("open-") and RUNGS[shape] == 0 for shape in shapes(student))


# -- a suggestion itself ------------------------------------------------------------------------------------------


STUDENT = facts(goals=opened(done(*BARRE_5), progression("D", ("I", "vi", "IV", "V"))))


@pytest.mark.parametrize("student", [facts(), STUDENT, facts(age=7), facts(goals=opened())])
def test_terms_add_up_and_the_best_comes_first(student):
    found = next_chords(student, TODAY, 10)
    assert [round(one.score, 9) for one in found] == sorted((round(one.score, 9) for one in found), reverse=True)
    for one in found:
        assert one.score == pytest.approx(sum(one.terms.values()))
        assert one.terms["ease"] == pytest.approx(-theory.grip_demand(one.voicing, student.hand).total / 4)
        assert one.terms.get("care", 0) == -0.5 * len(one.cautions)
        assert all(say(reason) and "%(" not in say(reason) for reason in one.reasons)


@pytest.mark.parametrize("student", [facts(), STUDENT, facts(instrument=theory.INSTRUMENTS["half-size"])])
def test_each_can_be_set_as_it_stands(student):
    for one in next_chords(student, TODAY, 10):
        again = theory.Goal.from_terms(one.goal.to_terms())
        assert again.chords[0].voicing(student.instrument) == one.voicing
        assert not any(finding.is_error for finding in theory.validate(again, student.instrument, student.hand))
        assert one.target == one.voicing.strings_sounding
        assert one.title == one.goal.title_text(student.instrument)


def test_what_is_active_or_secure_is_not_suggested_again():
    first = next_chords(STUDENT, TODAY)[0]
    active = replace(STUDENT, goals=(*STUDENT.goals, goal(code="new", theory=first.goal)))
    assert first.title not in titles(active, 50)
    assert "A, E-shape at 5" not in titles(STUDENT, 50)


def test_three_are_of_three_shapes_and_chords():
    for student in (facts(), STUDENT, facts(goals=opened())):
        found = next_chords(student, TODAY)
        assert len(found) == 3
        assert len({one.voicing.shape for one in found}) == 3
        assert len({one.voicing.symbol for one in found}) == 3


def test_another_tuning_suggests_only_what_survives_it():
    drop_d = theory.INSTRUMENTS["steel-string"].with_(tuning=theory.read_tuning("D2 A2 D3 G3 B3 E4"))
    found = shapes(facts(instrument=drop_d, goals=opened()))
    assert "E-major" not in found
    assert found


# -- the guards ---------------------------------------------------------------------------------------------------


def test_an_open_hand_note_allows_no_barre_and_nothing_heavier_than_what_is_comfortable():
    hurt = replace(STUDENT, notes=(note(ago(2), 2),))
    found = next_chords(hurt, TODAY, 30)
    most = max(theory.grip_demand(one.theory.chords[0].voicing()).total for one in opened())
    assert found
    assert all(not one.voicing.has_barre for one in found)
    assert max(theory.grip_demand(one.voicing, hurt.hand).total for one in found) <= most
    assert word(hurt, TODAY).code == "suggest-light-only"
    assert titles(replace(hurt, notes=(note(ago(2), 2), note(ago(1), 0))), 30) == titles(STUDENT, 30)


def test_a_light_barre_waits_too_while_a_hand_note_is_open():
    shapes_known = [BARRE_5, ("E-minor", "A", 5), ("A-minor", "D", 5), ("A-major-partial", "D", 5), ("open-C7", "C", 0)]
    able = facts(goals=opened(*(done(*one) for one in shapes_known)))
    light = theory.place("A-7", "D", position=5)
    assert theory.grip_demand(light).total < theory.grip_demand(theory.place("open-C7")).total
    assert light in in_turn(able, TODAY)
    assert not any(one.has_barre for one in in_turn(replace(able, notes=(note(ago(2), 2),)), TODAY))


def test_a_pause_leaves_roots_to_find():
    hurt = replace(STUDENT, notes=(note(ago(2), 5),))
    found = next_chords(hurt, TODAY)
    assert [(one.goal.kind, one.goal.string, one.measure) for one in found] == [
        ("roots", 6, "seconds"),
        ("roots", 5, "seconds"),
        ("roots", 4, "seconds"),
    ]
    assert word(hurt, TODAY).code == "suggest-pause"
    busy = replace(hurt, goals=(goal("seconds", kind="roots", theory=theory.Goal("roots", string=6)),))
    assert [one.goal.string for one in next_chords(busy, TODAY)] == [5, 4]


def test_a_sign_leaves_nothing_but_rest():
    hurt = replace(STUDENT, notes=(note(ago(2), 1, sensation="numb"),))
    assert next_chords(hurt, TODAY) == []
    assert word(hurt, TODAY).code == "suggest-rest"


def test_without_consent_no_hand_note_is_used():
    hidden = replace(STUDENT, notes=(note(ago(2), 5),), hand_consent=False)
    assert next_chords(hidden, TODAY) == next_chords(STUDENT, TODAY)
    assert word(hidden, TODAY) is None


# chords set in the last seven days, age, days with the studio, whether that is enough
@pytest.mark.parametrize(
    ("days", "age", "with_us", "enough"),
    [
        ((), 40, 400, False),
        ((1,), 40, 400, False),
        ((1, 6), 40, 400, True),
        ((1, 7), 40, 400, False),
        ((1,), 9, 400, True),
        ((1,), 10, 400, False),
        ((1,), 40, 182, True),
        ((1,), 40, 183, False),
        ((1,), None, 400, False),
    ],
)
def test_not_more_than_two_new_chords_a_week(days, age, with_us, enough):
    new = tuple(goal(code=f"new {day}", theory=chord("open-A7", "A", 0), set_on=ago(day)) for day in days)
    student = facts(goals=new, age=age, joined=ago(with_us))
    assert (next_chords(student, TODAY) == []) is enough
    said = word(student, TODAY)
    assert (said is not None and said.code == "suggest-enough-new") is enough


def test_a_review_comes_beside_new_things_and_even_when_there_is_enough_that_is_new():
    slept = done("open-C", "C", marks=(mark(ago(90), 6), mark(ago(80), 6, check=True)), set_aside=True, title="old C")
    assert "old C" in titles(facts(goals=(slept,)), 30)
    new = tuple(goal(code=str(n), theory=chord("open-A7", "A", 0), set_on=ago(1)) for n in range(2))
    (review,) = next_chords(facts(goals=(slept, *new)), TODAY)
    assert (review.title, review.target, review.reasons[0].code) == ("old C", 5, "suggest-review")
    again = goal(code="again", theory=slept.theory)
    assert "old C" not in titles(facts(goals=(slept, again)), 30)
    in_use = progression("G", ("I", "IV"))
    assert "old C" not in titles(facts(goals=(slept, in_use)), 30)
    past_it = goal(code="barre", theory=chord(*BARRE_5))
    assert "old C" not in titles(facts(goals=(slept, past_it)), 30)


# -- metamorphic --------------------------------------------------------------------------------------------------


def test_one_more_known_chord_changes_what_stands_on_it():
    before = facts(goals=opened())
    after = facts(goals=opened(done(*BARRE_5)))
    assert "E-minor" not in shapes(before)
    assert {"E-minor", "A-minor"} <= shapes(after)
    unchecked = facts(goals=opened(done(*BARRE_5, marks=(mark(ago(9), 6), mark(ago(7), 6)))))
    assert shapes(unchecked) - {"E-major"} == shapes(before) - {"E-major"}


def test_another_key_changes_the_key_term_alone():
    in_g = facts(goals=opened(done(*BARRE_5), goal(code="k", theory=chord("open-G", "G", 0, key="G"))))
    in_d = replace(in_g, goals=(*in_g.goals[:-1], goal(code="k", theory=chord("open-G", "G", 0, key="D"))))
    one = {s.title: s.terms for s in next_chords(in_g, TODAY, 99)}
    two = {s.title: s.terms for s in next_chords(in_d, TODAY, 99)}
    both = one.keys() & two.keys()
    assert both
    for title in both:
        assert {k: v for k, v in one[title].items() if k != "key"} == {
            k: v for k, v in two[title].items() if k != "key"
        }
    assert any(one[title]["key"] != two[title]["key"] for title in both)


def test_an_entry_changes_nothing_here():
    logged = replace(STUDENT, entries=(entry(ago(1), 300, tiring=10),))
    assert next_chords(logged, TODAY) == next_chords(STUDENT, TODAY)
