"""What comes next: the teaching order and its borders, the guards, terms that add up; what one change changes, and
what holds of every history.
"""

import datetime as dt
import os
import re
import subprocess
import sys
import time
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from practice import handcare
from practice.example import draw
from practice.progress import secure_items, was_secure
from practice.suggest import RUNGS, in_turn, next_chords, word
from practice.suggest_words import OF_HAND, TEMPLATES
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


# -- what a teacher would nod at (common practice, no source) --------------------------------------------------------


def doing(shape: str, root: str, position: int | None = None, **over):
    """A chord goal set two months ago and not secure yet."""
    return goal(**({"code": f"at {shape} {root}", "theory": chord(shape, root, position), "title": "at it"} | over))


SMALL_TWO = (done("small-G", "G"), done("small-C", "C"))
E_MINOR_5 = ("E-minor", "A", 5)

# who; what they have and do; titles that are among the three; titles that are not in turn at all
CASES = {
    "stuck at F, nothing barred yet": (
        {"goals": (done("open-C", "C"), done("open-Am", "A"), doing("E-major", "F", 1))},
        ["E, open (without the index)", "F, small form", "A, E-shape at 5"],
        ["G, E-shape at 3", "C, E-shape at 8"],
    ),
    "B minor barred first": (
        {"goals": (done("open-Em", "E"), doing("A-minor", "B", 2))},
        ["Am, open (without the index)", "Bm, small form", "Dm, A-shape at 5"],
        ["Cm, A-shape at 3"],
    ),
    "the first barre is being worked on at 5": (
        {"goals": (*opened(), doing("E-major", "A", 5))},
        ["E, open (without the index)"],
        ["B, E-shape at 7", "G, E-shape at 3"],
    ),
    "E-shape minor first, in G": (
        {"goals": (done(*E_MINOR_5), progression("G", ("I", "IV")))},
        ["Bm, E-shape at 7", "A, E-shape at 5"],
        ["G, E-shape at 1"],
    ),
    "a child of nine on two small forms": (
        {"age": 9, "hand": theory.Hand.of(age=9), "goals": SMALL_TWO},
        ["Em, open", "G7, small form", "D, small form"],
        ["G, open", "C, open"],
    ),
    "a child of ten with three small forms": (
        {"age": 10, "goals": (*SMALL_TWO, done("small-D", "D"), done("small-G7", "G", target=3))},
        ["Em, open"],
        ["A, E-shape at 5"],
    ),
    "D small is being worked on": (
        {"age": 9, "goals": (*SMALL_TWO, doing("small-D", "D"))},
        ["Em, open"],
        ["D, open", "D, small form"],
    ),
    "power chords on the 6th string": (
        {"goals": (done("E-5", "A", 5, target=3), done("E-5", "G", 3, target=3))},
        ["D5, A-shape at 5"],
        ["D, A-shape at 5 (partial barre)"],
    ),
    "blues sevenths before any triad": (
        {"goals": (done("E-7", "A", 5), done("A-7", "D", 5))},
        ["A, E-shape at 5", "C7, A-shape at 3"],
        ["F7, E-shape at 1", "Em7, A-shape at 7"],
    ),
    "major sevenths that a progression asks for": (
        {"goals": (*opened(), progression("C", ("Imaj7", "vi7", "ii7")))},
        ["Am7, open", "Cmaj7, open"],
        ["Cmaj7, A-shape at 3", "Gmaj7, open"],
    ),
    "all barres down to 3": (
        {"goals": opened(done(*BARRE_5), done(*BARRE_3), progression("D", ("I", "iii")))},
        ["F#m, E-shape at 2"],
        ["F, E-shape at 1", "Bbm, A-shape at 1"],
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_a_teacher_would_nod(case):
    given, comes, waits = CASES[case]
    student = facts(**given)
    assert set(comes) <= set(titles(student))
    assert not set(waits) & {voicing.title for voicing in in_turn(student, TODAY)}


def test_the_full_form_follows_the_small_one_from_ten_years_on():
    student = facts(age=10, goals=SMALL_TWO)
    found = {one.title: one for one in next_chords(student, TODAY, 30)}
    assert [said.code for said in found["G, open"].reasons[:1]] == ["suggest-full-form"]
    assert found["G, open"].score < found["D, small form"].score


def test_who_began_low_goes_no_lower_before_fret_5_is_secure():
    low = facts(goals=opened(done(*BARRE_3)))
    assert min(one.position for one in in_turn(low, TODAY) if one.has_barre) == 3
    lowest = facts(goals=opened(done("E-major", "F", 1)))
    assert min(one.position for one in in_turn(lowest, TODAY) if one.has_barre) == 1


def test_a_barre_above_a_capo_counts_where_it_lies():
    with_capo = chord("E-major", "F", 1, capo=4)  # at the fifth fret
    student = facts(goals=opened(done("E-major", "F", 1, theory=with_capo)))
    assert min(one.position for one in in_turn(student, TODAY) if one.has_barre) == 3


# days since anything was done on a goal that was set aside unfinished; whether the chord may come again
@pytest.mark.parametrize(("days", "again"), [(1, False), (27, False), (28, True), (60, True)])
def test_what_was_set_aside_comes_again_after_four_weeks(days, again):
    aside = doing("open-Em", "E", set_aside=True, set_on=ago(90), practised=((ago(days), 300),))
    assert ("Em, open" in titles(facts(goals=(aside,)), 30)) is again


def test_an_open_chord_is_spelled_as_its_key_spells_it():
    student = facts(goals=(goal(code="k", theory=chord("E-5", "A", 5, key="A# minor")),))
    assert "E#, small form" in titles(student, 30)


def test_past_the_first_barre_open_sevenths_come_only_where_a_key_asks():
    def sevenths(*goals):
        return {one for one in shapes(facts(goals=goals)) if one in ("open-A7", "open-D7", "open-C7")}

    in_g = goal(code="k", theory=chord("open-G", "G", 0, key="G"))
    assert sevenths(*opened()) == {"open-A7", "open-D7", "open-C7"}
    assert sevenths(*opened(done(*BARRE_5), in_g)) == {"open-D7"}


def test_forms_beyond_the_order_wait_for_three_open_chords():
    asks = progression("C", ("Imaj7", "vi7"))
    assert "open-Cmaj7" not in shapes(facts(goals=(done("open-Em", "E"), done("open-C", "C"), asks)))
    assert "open-Cmaj7" in shapes(facts(goals=(done("open-Em", "E"), done("open-C", "C"), done("open-D", "D"), asks)))


def test_the_step_down_waits_for_e_shape_major():
    blues = facts(**CASES["blues sevenths before any triad"][0])
    assert titles(blues, 1) == ["A, E-shape at 5"]


def test_the_lower_neck_comes_first():
    student = facts(goals=opened(done(*BARRE_5), done(*E_MINOR_5), progression("A minor", ("i", "VI"))))
    step = {one.title: one.terms["step"] for one in next_chords(student, TODAY, 99)}
    assert step["F, A-shape at 8 (partial barre)"] == step["C, A-shape at 3"] - 1


def test_nothing_stands_above_fret_10():
    for case in CASES.values():
        assert all(one.position <= 10 for one in in_turn(facts(**case[0]), TODAY))


# -- what one change changes, and nothing else -----------------------------------------------------------------------

HISTORIES = {
    "beginner": facts(goals=(done("open-D", "D"),)),
    "open chords": facts(goals=opened()),
    "first barre": STUDENT,
    "barres": facts(goals=opened(done(*BARRE_5), done(*BARRE_3), done(*E_MINOR_5), done("A-minor", "D", 5))),
    "child": facts(age=8, hand=theory.Hand.of(age=8), goals=SMALL_TWO),
    "in A minor": facts(goals=(done(*BARRE_5), progression("A minor", ("i", "iv", "V")))),
}


def learned(student, one):
    """The student with a suggestion secure."""
    marks = tuple(mark(ago(days), one.target, check=check) for days, check in ((5, False), (3, True)))
    more = goal(code="learned", theory=one.goal, title=one.title, target=one.target, marks=marks)
    return replace(student, goals=(*student.goals, more))


@pytest.mark.parametrize("history", HISTORIES)
def test_one_more_secure_chord_changes_what_it_should_and_nothing_else(history):
    student = HISTORIES[history]
    before = {one.title: one for one in next_chords(student, TODAY, 99)}
    for first in list(before.values())[:6]:
        after = {one.title: one for one in next_chords(learned(student, first), TODAY, 99)}
        assert first.title not in after
        both = before.keys() & after.keys()
        assert both
        for title in both:
            old, new = before[title], after[title]
            assert (old.goal, old.measure, old.target, old.voicing) == (new.goal, new.measure, new.target, new.voicing)
            assert old.terms["ease"] == new.terms["ease"]
            # more is known: nothing is further from it than before, nor heavier beside it
            assert new.terms.get("change", 0) >= old.terms.get("change", -99)
            if "grip" in old.terms:
                assert new.terms["grip"] >= old.terms["grip"]
            if not first.voicing.has_barre and first.voicing.shape != new.voicing.shape:
                same = {"step", "care"} if RUNGS.get(first.voicing.shape) == RUNGS.get(old.voicing.shape) else {"care"}
                assert {k: new.terms.get(k) for k in same} == {k: old.terms.get(k) for k in same}
        # a key that owned it counts one more
        told = [one.reasons[0] for one in after.values() if one.reasons[0].code == "suggest-key"]
        was = [one.reasons[0] for one in before.values() if one.reasons[0].code == "suggest-key"]
        if first.reasons[0].code in ("suggest-key", "suggest-progression") and told and was:
            assert told[0].values["have"] == was[0].values["have"] + 1


@pytest.mark.parametrize("history", HISTORIES)
def test_an_active_goal_leaves_the_list_and_takes_only_its_own_chord_and_shape_along(history):
    student = HISTORIES[history]
    before = next_chords(student, TODAY, 99)
    for first in before[:6]:
        if theory.SHAPES[first.voicing.shape].kind == "movable" and not student.goals:
            continue
        active = goal(code="new", theory=first.goal, title=first.title)
        after = {one.title: one for one in next_chords(replace(student, goals=(*student.goals, active)), TODAY, 99)}
        assert first.title not in after
        if first.voicing.has_barre:  # then what leads up to it comes in
            continue
        pair = (first.voicing.root, first.voicing.quality)
        for one in before:
            if one.voicing.shape == first.voicing.shape or (one.voicing.root, one.voicing.quality) == pair:
                continue
            mine, other = dict(after[one.title].terms), dict(one.terms)
            # where it stood alone on its rung, the next rung's turn has come
            assert mine.pop("step") >= other.pop("step")
            assert mine == other, (first.title, one.title)


@pytest.mark.parametrize("history", HISTORIES)
def test_an_open_hand_note_only_takes_away(history):
    student = HISTORIES[history]
    hurt = replace(student, notes=(note(ago(1), 2),))
    free, held = in_turn(student, TODAY), in_turn(hurt, TODAY)
    assert set(held) < set(free)
    assert not any(voicing.has_barre for voicing in held)
    kept = {one.title: one for one in next_chords(student, TODAY, 99)}
    for one in next_chords(hurt, TODAY, 99):
        if one.title in kept:  # the same thing for the same reasons; only the first rung may have gone
            mine, other = dict(one.terms), dict(kept[one.title].terms)
            assert mine.pop("step") >= other.pop("step")
            assert mine == other


@pytest.mark.parametrize("history", HISTORIES)
def test_a_full_week_leaves_nothing_new(history):
    student = HISTORIES[history]
    new = tuple(goal(code=str(n), theory=chord("open-Dsus2", "D", 0), set_on=ago(n)) for n in range(2))
    assert next_chords(replace(student, goals=student.goals + new), TODAY, 99) == []


# -- every history -----------------------------------------------------------------------------------------------------

STATES = ("secure", "developing", "introduced", "aside", "aside when secure", "review due", "new")


@st.composite
def goals(draw, number=0):
    shape = draw(st.sampled_from(sorted(theory.SHAPES)))
    root = draw(st.sampled_from(["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B", "E#", "Cb", "H", ""]))
    position = draw(st.sampled_from([None, None, 0, 1, 2, 3, 5, 7, 9, 40]))
    key = draw(st.sampled_from([None, None, "G", "C", "F", "B minor", "Ab minor", "C# major", "H"]))
    capo = draw(st.sampled_from([0, 0, 0, 2, 5, 30]))
    kind = draw(st.sampled_from(["chord"] * 5 + ["change", "progression", "roots", "piece"]))
    if kind == "chord":
        home = theory.SHAPES[shape].kind != "movable" and draw(st.booleans())
        own = str(theory.place(shape).root) if home else root
        terms = theory.Goal(kind, (theory.ChordTerm(shape, own, None if home else position),), key=key, capo=capo)
    elif kind == "change":
        other = draw(st.sampled_from(sorted(theory.SHAPES)))
        terms = theory.Goal(kind, (theory.ChordTerm(shape, root), theory.ChordTerm(other, "A")), key=key, capo=capo)
    elif kind == "progression":
        steps = st.sampled_from(["I", "i", "vi", "IV", "V7", "Imaj7", "bVII", "ii7", "Bm7b5", "F#m", "C9", "?"])
        terms = theory.Goal(kind, key=key, numerals=tuple(draw(st.lists(steps, max_size=5))))
    else:
        terms = theory.Goal(kind, string=draw(st.integers(1, 6)), title="Study")
    state = draw(st.sampled_from(STATES))
    target = draw(st.sampled_from([0, 3, 5, 6]))
    measure = {"change": "changes", "progression": "tempo", "roots": "seconds", "piece": "runs"}.get(kind, "clean")
    old = 80 if state == "review due" else 0
    met = (mark(ago(old + 9), 6, measure=measure), mark(ago(old + 7), 6, check=True, measure=measure))
    marks = {"developing": met[:1], "introduced": (), "aside": met[:1], "new": ()}.get(state, met)
    return goal(
        measure, target, code=f"goal {number}", kind=kind, theory=terms, title=f"goal {number}", marks=marks,
        set_aside=state.startswith("aside"), set_on=ago(draw(st.integers(0, 6)) if state == "new" else 100),
    )  # fmt: skip


@st.composite
def students(draw):
    notes = draw(
        st.lists(
            st.builds(
                lambda day, value, **over: note(ago(day), value, **over),
                st.integers(0, 20), st.integers(0, 6), place=st.sampled_from(["wrist", "fingertip", ""]),
                sensation=st.sampled_from(["", "", "", "sore", "numb"]), closed=st.booleans(),
            ),
            max_size=3,
        )
    )  # fmt: skip
    age = draw(st.sampled_from([None, 6, 9, 10, 13, 40]))
    tunings = [None, None, None, "D2 A2 D3 G3 B3 E4", "D2 G2 D3 G3 B3 D4"]
    tuning = draw(st.sampled_from(tunings))
    instrument = theory.INSTRUMENTS[draw(st.sampled_from(sorted(theory.INSTRUMENTS)))]
    return facts(
        age=age,
        hand=theory.Hand.of(age=age),
        instrument=instrument.with_(tuning=theory.read_tuning(tuning)) if tuning else instrument,
        joined=ago(draw(st.sampled_from([0, 30, 400]))),
        hand_consent=draw(st.booleans()),
        notes=tuple(sorted(notes, key=lambda one: one.at)),
        goals=tuple(draw(goals(number)) for number in range(draw(st.integers(0, 7)))),
    )


def placed(goals_, instrument):
    for one in goals_:
        for term in one.theory.chords:
            try:
                yield term.voicing(one.theory.on(instrument))
            except theory.TheoryError:
                continue


@settings(max_examples=300)
@given(students(), st.sampled_from([1, 3, 99]))
@pytest.mark.long
def test_of_every_history(student, count):
    found = next_chords(student, TODAY, count)
    held_back = word(student, TODAY)
    assert next_chords(student, TODAY, count) == found  # the same again
    assert found == next_chords(student, TODAY, 99)[:count]
    assert len({one.title for one in found}) == len(found) <= count
    assert [round(one.score, 9) for one in found] == sorted((round(one.score, 9) for one in found), reverse=True)

    owned = [one for one in student.goals if one.kind in ("chord", "change") and was_secure(one, TODAY)]
    secure = list(placed(owned, student.instrument))
    active = list(placed(student.active_goals, student.instrument))
    frets = [one.position + one.instrument.capo for one in secure if one.has_barre]
    open_note = student.hand_consent and bool(handcare.open_notes(student.notes))
    level = handcare.advice(student.notes, TODAY).level if student.hand_consent else handcare.NOTHING
    new = [one for one in student.active_goals if one.kind == "chord" and one.set_on > ago(7)]

    for one in found:
        assert one.score == pytest.approx(sum(one.terms.values()), abs=1e-12)
        assert one.reasons
        assert all(say(reason) and "%(" not in say(reason) for reason in one.reasons)
        findings = theory.validate(one.goal, student.instrument, student.hand)
        assert not any(finding.is_error for finding in findings), (one.title, findings)
        assert one.goal == theory.Goal.from_terms(one.goal.to_terms())
        if one.voicing is None:
            assert level == handcare.PAUSE
            continue
        same = (one.voicing.shape, one.voicing.root.pitch_class)
        assert same not in {(other.shape, other.root.pitch_class) for other in active}
        if one.reasons[0].code != "suggest-review":
            assert same not in {(other.shape, other.root.pitch_class) for other in secure}
            assert len(new) < (1 if (student.age or 99) < 10 or student.joined > ago(183) else 2)
            assert one.voicing.position <= 10
            if one.voicing.has_barre:
                assert (student.age or 99) >= 10
                fret = one.voicing.position
                if not frets:
                    assert 5 <= fret <= 7
                if fret < 5:
                    assert any(other >= 5 for other in frets) or fret >= min(frets)
                if fret == 1:
                    assert min(frets) <= 2
        if open_note:
            assert not one.voicing.has_barre
    assert level != handcare.SEE_SOMEONE or not found
    if held_back is not None:
        assert say(held_back)
    elif not found:
        assert not in_turn(student, TODAY)
    hurt = level in (handcare.EASE_OFF, handcare.PAUSE, handcare.SEE_SOMEONE) or open_note
    full = len(new) >= (1 if (student.age or 99) < 10 or student.joined > ago(183) else 2)
    assert (held_back is not None) is (hurt or full)


@pytest.mark.long
def test_it_does_not_hang_on_how_sets_are_walked():
    code = (
        "import tests.practice.test_suggest as t\n"
        "for one in t.HISTORIES.values(): print(t.next_chords(one, t.TODAY, 99))"
    )
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "studio.settings", "DEBUG": "true"}
    told = {
        subprocess.run(
            [sys.executable, "-c", "import django; django.setup()\n" + code], cwd=Path(__file__).parents[2], check=True,
            env=environment | {"PYTHONHASHSEED": seed}, capture_output=True, text=True,
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert len(told) == 1
    assert told.pop().count("Suggestion(") > 20


# -- the example studio ------------------------------------------------------------------------------------------------


@cache
def studio():
    return draw(2, TODAY)


PEOPLE = [
    # story, what comes first or is among the three, how many
    ("small-forms", "G7, small form", 3),
    ("over-practiser", None, 0),
    ("on-course", "A, E-shape at 5", 3),
    ("stuck-barre", "F, small form", 3),
    ("sunday-only", "Bm, E-shape at 7", 3),
    ("stopped", "E, open (without the index)", 3),
    ("left-hander", "F, A-shape at 8 (partial barre)", 3),
    ("past-due", "A, E-shape at 5", 3),
    ("no-consent", "D5, A-shape at 5", 3),
    ("two-guardians", None, 3),
    ("guardian-logged", "D, small form", 3),
    ("steady", "Bm, E-shape at 7", 3),
    ("paused", "Em, open", 3),
    ("slipped", "C#m, A-shape at 4", 3),
    ("fortnightly", "B, E-shape at 7", 3),
    ("unknown-birth-year", None, 3),
    ("new", None, 0),
    ("paper-log", "Em, open", 3),
    ("fingertips", "Bm, small form", 3),
]


@pytest.mark.parametrize(("story", "title", "count"), PEOPLE)
def test_the_list_of_every_story(story, title, count):
    student = studio().facts(studio().stories[story].student)
    found = next_chords(student, TODAY)
    assert len(found) == count
    assert title is None or title in [one.title for one in found]
    assert (word(student, TODAY) is not None) is (count == 0)
    assert not {one.goal.chords for one in found} & {(term,) for term in secure_items(student, TODAY)}


def test_every_person_gets_a_list_or_the_reason_why_not_and_quickly():
    spent = []
    for person in studio().students:
        student = studio().facts(person.name)
        next_chords(student, TODAY)  # the theory core's caches fill
        begun = time.process_time()
        found = next_chords(student, TODAY)
        spent.append(time.process_time() - begun)
        assert found or word(student, TODAY)
        for one in found:
            assert len(one.reasons) >= 2 or one.goal.kind == "roots"
    # aim: 50 ms; the bar only catches a change of order
    assert max(spent) < 0.25


def test_a_hand_note_in_every_story_lets_nothing_barred_through():
    for person in studio().students:
        student = studio().facts(person.name)
        hurt = replace(student, hand_consent=True, notes=(note(ago(1), 2),), joined=TODAY - dt.timedelta(days=400))
        assert not any(one.voicing and one.voicing.has_barre for one in next_chords(hurt, TODAY, 99))


def test_what_is_said_of_something_else_gives_no_hand_away():
    """Today's page shows all but OF_HAND while the next family looks on."""
    for code, template in TEMPLATES.items():
        text = str(getattr(template, "_kwargs", {}).get("plural", template))
        if code not in OF_HAND:
            assert not re.search(r"hand note|rests|paused|hurt|presses|complain", text), code
