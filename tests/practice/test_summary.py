"""The week as one value: the sentence's order, the three numbers, one way to help; what one changed row
changes.
"""

import datetime as dt
from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice.facts import ReturnFacts, StudentFacts
from practice.measures import MEASURES
from practice.plateau import stuck
from practice.said import Said
from practice.summary import band, compose
from practice.words import say
from studio import theory
from tests.practice.plain import TODAY, ago, change, chord, entry, facts, goal, mark, note

WEEK = dt.date(2026, 11, 2)  # the last finished week: 2 to 8 November
SMALL_F = chord("small-F", "F", None)


def on(weekday: int) -> dt.date:
    return WEEK + dt.timedelta(days=weekday)


def landings(*steps, target=4, **over):
    """A goal on the small F by landings; steps: (day, value, lesson check)."""
    marks = tuple(mark(day, value, check, "landings") for day, value, check in steps)
    return goal("landings", target, theory=SMALL_F, title="F, small form", marks=marks, **over)


def wren(*goals, days=(0, 1, 3, 5), minutes=13, **over) -> StudentFacts:
    return facts(goals=goals, entries=tuple(entry(on(day), minutes) for day in days), **over)


def codes(summary) -> tuple:
    return summary.sentence.code, summary.help.code


# -- the sentence
# ------------------------------------------------------------------------------------------------

BEFORE = on(-3)
# goals, practice days, code of the sentence
SENTENCES = [
    ("became secure", [landings((BEFORE, 4, False), (on(3), 4, True))], (0,), "week-can-landings"),
    ("secure before", [landings((BEFORE, 4, False), (on(-1), 4, True))], (0,), "week-days"),
    ("met for the first time", [landings((BEFORE, 2, False), (on(3), 4, False))], (0,), "week-met"),
    ("met before", [landings((BEFORE, 4, False), (on(3), 4, False))], (0,), "week-days"),
    ("rose", [landings((BEFORE, 2, False), (on(3), 3, False))], (0,), "week-rise"),
    ("fell", [landings((BEFORE, 3, False), (on(3), 2, False))], (0,), "week-days"),
    ("rose, nothing logged at home", [landings((BEFORE, 2, False), (on(3), 3, True))], (), "week-rise"),
    ("nothing before to compare with", [landings((on(3), 3, False))], (0,), "week-days"),
    ("all planned days", [], (0, 1, 2, 3, 4), "week-days-all"),
    ("more than planned", [], (0, 1, 2, 3, 4, 5), "week-days-more"),
    ("some days", [], (0, 1), "week-days"),
    ("a lesson check only", [landings((on(3), 2, True))], (), "week-lesson-only"),
    ("nothing", [], (), "week-nothing"),
]


@pytest.mark.parametrize(("goals", "days", "code"), [one[1:] for one in SENTENCES], ids=[one[0] for one in SENTENCES])
def test_the_sentence_by_its_order(goals, days, code):
    assert compose(wren(*goals, days=days), WEEK, TODAY).sentence.code == code


def test_secure_is_told_before_met_before_risen():
    rose = landings((BEFORE, 1, False), (on(3), 3, False), code="rose", due=ago(30))
    met = landings((BEFORE, 1, False), (on(3), 4, False), code="met", due=ago(20))
    secure = landings((BEFORE, 4, False), (on(3), 4, True), code="secure")
    assert compose(wren(rose, met, secure), WEEK, TODAY).sentence.code == "week-can-landings"
    assert compose(wren(rose, met), WEEK, TODAY).sentence.code == "week-met"
    assert compose(wren(rose), WEEK, TODAY).sentence.code == "week-rise"


def test_the_larger_step_is_told():
    one = landings((BEFORE, 2, False), (on(3), 3, False), code="one", due=ago(1))
    two = landings((BEFORE, 0, False), (on(3), 3, False), code="two")
    assert compose(wren(one, two), WEEK, TODAY).sentence.values["before"].values == {"value": 0}


def test_of_what_stands_still_no_rise_is_told(monkeypatch):
    """Alternating 2, 2, 3 for eight weeks is no step forward, though this week's 3 follows last week's 2."""
    values = [2, 2, 3] * 8
    days = [on(3) - dt.timedelta(days=3 * back) for back in reversed(range(24))]
    marks = tuple(mark(day, value, False, "landings") for day, value in zip(days, values, strict=True))
    still = goal("landings", 5, marks=marks, start_value=0, practised=((on(3), 300),))
    assert stuck(still, TODAY)
    assert compose(wren(still), WEEK, TODAY).sentence.code != "week-rise"
    monkeypatch.setattr("practice.summary.stuck", lambda *_: None)
    assert compose(wren(still), WEEK, TODAY).sentence.code == "week-rise"  # else the test could not fail


def test_a_goal_set_aside_when_secure_is_still_told():
    done = landings((BEFORE, 4, False), (on(3), 4, True), set_aside=True)
    assert compose(wren(done), WEEK, TODAY).sentence.code == "week-can-landings"


@pytest.mark.parametrize("measure", [code for code in MEASURES if code != "minutes"])
def test_every_measure_has_a_sentence_when_secure(measure):
    target = MEASURES[measure].usual
    marks = (mark(BEFORE, target, False, measure), mark(on(3), target, True, measure))
    said = compose(wren(goal(measure, target, marks=marks)), WEEK, TODAY).sentence
    assert said.code == f"week-can-{measure}"
    if measure != "clean":
        assert said.values["value"] == target


def test_a_chord_clean_but_for_a_string_is_not_said_to_ring_whole():
    marks = (mark(BEFORE, 5), mark(on(3), 5, check=True))
    said = compose(wren(goal(target=5, marks=marks)), WEEK, TODAY).sentence
    assert (said.code, said.values["value"], said.values["of"]) == ("week-can-clean-of", 5, 6)


@pytest.mark.parametrize(
    ("terms", "kind", "what"),
    [
        (SMALL_F, "chord", Said("what-chord", {"chord": "F"})),
        (
            change(("open-D", "D", 0), ("A-minor", "B", 2)),
            "change",
            Said("what-change", {"first": "D", "second": "Bm"}),
        ),
        (
            theory.Goal("progression", key="G", numerals=("I", "IV")),
            "progression",
            Said("what-progression", {"key": "G"}),
        ),
        (theory.Goal("roots", string=5), "roots", Said("what-roots", {"string": Said("string-5")})),
        (theory.Goal("piece", title="Waltz"), "piece", Said("what-piece", {"title": "Waltz"})),
    ],
)
def test_what_a_family_may_call_it(terms, kind, what):
    marks = (mark(BEFORE, 60, False, "tempo"), mark(on(3), 80, False, "tempo"))
    one = goal("tempo", 72, kind=kind, theory=terms, title="Waltz", marks=marks)
    assert compose(wren(one), WEEK, TODAY).sentence.values["what"] == what


# -- the three numbers
# ----------------------------------------------------------------------------------------------


def test_the_numbers_are_the_weeks():
    given = wren(landings((BEFORE, 2, False), (on(3), 4, False)))
    days, minutes, measurement = compose(given, WEEK, TODAY).numbers
    assert (days.value, days.beside.values) == (4, {"days": 5})
    assert (minutes.value, minutes.beside.values) == (52, {"minutes": 60})
    assert (measurement.value, measurement.label.code) == (4, "number-landings")
    assert measurement.beside.values == {"title": "F, small form", "value": 2}


def test_the_measurement_is_the_last_of_the_week_with_the_week_before_beside():
    given = wren(landings((BEFORE, 3, False), (on(1), 1, False), (on(4), 2, False), (ago(1), 4, False)))
    measurement = compose(given, WEEK, TODAY).numbers[2]
    assert (measurement.value, measurement.beside.values["value"]) == (2, 3)


def test_nothing_measured_is_said():
    measurement = compose(wren(landings((BEFORE, 3, False))), WEEK, TODAY).numbers[2]
    assert (measurement.value, measurement.label.code) == ("–", "number-none")


def test_a_first_measurement_has_nothing_beside():
    measurement = compose(wren(landings((on(3), 3, False))), WEEK, TODAY).numbers[2]
    assert (measurement.value, measurement.beside.code) == (3, "number-beside-none")


# -- one way to help
# ------------------------------------------------------------------------------------------------


def test_the_hand_comes_first():
    given = wren(landings((on(3), 3, False)), days=range(7), minutes=60)
    assert compose(given, WEEK, TODAY).help.code == "help-over-plan"
    hurt = replace(given, notes=(note(on(4), 5),))
    assert compose(hurt, WEEK, TODAY).help.code == "help-hand-pause"
    assert compose(replace(hurt, hand_consent=False), WEEK, TODAY).help.code == "help-over-plan"
    eased = replace(given, notes=(note(ago(2), 1), note(ago(1), 1)))
    assert compose(eased, WEEK, TODAY).help.code == "help-hand-ease-off"
    signed = replace(given, notes=(note(on(4), 1, sensation="numb"),))
    assert compose(signed, WEEK, TODAY).help.code == "help-hand-see-someone"
    urgent = replace(signed, notes=tuple(replace(one, sudden=True) for one in signed.notes))
    assert compose(urgent, WEEK, on(4)).help.code == "help-hand-emergency"
    # once its day is over, help has come, and the hand rests until a doctor or hand therapist has had a look
    assert compose(urgent, WEEK, TODAY).help.code == "help-hand-stop"


# minutes a day on five days against a plan of 60 a week
@pytest.mark.parametrize(("minutes", "over"), [(18, False), (18.4, True)])
def test_over_the_plan_from_one_and_a_half_times(minutes, over):
    given = wren(landings((on(3), 3, False)), days=range(5), minutes=minutes)
    found = compose(given, WEEK, TODAY)
    assert (found.help.code == "help-over-plan") is over
    assert (found.sentence.code == "week-over-plan") is over


def test_help_follows_the_goals_measure_and_state():
    developing = landings((on(3), 3, False))
    assert compose(wren(developing), WEEK, TODAY).help.code == "help-landings"
    assert compose(wren(landings()), WEEK, TODAY).help.code == "help-introduced"
    due = landings((ago(60), 4, False), (ago(55), 4, True))
    assert compose(wren(due), WEEK, TODAY).help.code == "help-review"
    assert compose(wren(due, replace(developing, code="two")), WEEK, TODAY).help.code == "help-landings"
    assert compose(wren(), WEEK, TODAY).help.code == "help-listen"
    assert compose(wren(developing, days=()), WEEK, TODAY).help.code == "help-nothing-logged"


def test_help_goes_to_the_goal_most_worked_on():
    little = landings((on(3), 3, False), code="little", practised=((on(3), 60),))
    much = goal(code="much", marks=(mark(on(2), 3),), practised=((on(2), 900),))
    assert compose(wren(little, much), WEEK, TODAY).help.code == "help-clean"
    assert compose(wren(replace(little, practised=((on(3), 901),)), much), WEEK, TODAY).help.code == "help-landings"


@pytest.mark.parametrize("measure", list(MEASURES))
def test_every_measure_has_its_help(measure):
    one = goal(measure, MEASURES[measure].highest, marks=(mark(on(3), 1, False, measure),))
    if MEASURES[measure].fewer_is_better:
        one = replace(one, target=0.5)
    assert compose(wren(one), WEEK, TODAY).help.code == f"help-{measure}"


# -- the detail
# -------------------------------------------------------------------------------------------------------


def test_goals_as_they_stood_at_the_weeks_end():
    one = landings((BEFORE, 4, False), (on(3), 4, True), (ago(1), 1, True))
    (line,) = compose(wren(one), WEEK, TODAY).goals
    assert (line.state.code, line.last, line.check) == ("secure", 4, True)
    (now,) = compose(wren(one), WEEK + dt.timedelta(days=7), TODAY).goals
    assert (now.state.code, now.last) == ("developing", 1)


def test_goals_set_later_are_not_there_yet():
    assert compose(wren(landings(set_on=on(7))), WEEK, TODAY).goals == ()
    assert compose(wren(landings(set_on=on(6))), WEEK, TODAY).goals != ()


def test_goals_set_aside_appear_only_if_worked_on():
    assert compose(wren(landings(set_aside=True)), WEEK, TODAY).goals == ()
    worked = landings((on(1), 2, False), set_aside=True)
    assert [line.state.code for line in compose(wren(worked), WEEK, TODAY).goals] == ["set-aside"]


def test_the_hand_in_words_only_with_consent_and_never_past_notes_to_the_student():
    given = wren(notes=(note(on(2), 5), note(on(4), 0)))
    said = compose(given, WEEK, TODAY).hand
    assert said[0] == Said("hand-felt", {"days": 1, "much": Said("felt-some"), "place": Said("place-wrist")})
    assert compose(given, WEEK, TODAY, for_student=True).hand == ()
    without = compose(replace(given, hand_consent=False), WEEK, TODAY)
    assert (without.hand, without.advice) == ((), None)


def test_the_student_sees_todays_advice_and_no_value():
    given = wren(notes=(note(on(4), 7),))
    shown = compose(given, WEEK, TODAY, for_student=True).hand
    assert shown == compose(given, WEEK, TODAY).advice.says != ()
    assert all(not one.values for one in shown)


@pytest.mark.parametrize(
    ("notes", "code"),
    [
        ((), "hand-no-note"),
        ((note(on(1), 0), note(on(3), 1)), "hand-comfortable"),
        ((note(on(1), 2),), "hand-felt"),
        ((note(on(-1), 6), note(on(7), 0)), "hand-no-note"),
        ((note(on(1), 0), note(on(7), 5)), "hand-newer"),  # no "comfortable" beside a pause
        ((note(on(1), 2), note(on(7), 5)), "hand-felt"),
    ],
)
def test_how_the_hand_was(notes, code):
    assert compose(wren(notes=notes), WEEK, TODAY).hand[0].code == code


# bands: one convention of several (Canadian Physiotherapy Association page, published)
@pytest.mark.parametrize(
    ("number", "word"), [(1, "little"), (3, "little"), (4, "some"), (6, "some"), (7, "lot"), (10, "lot")]
)
def test_bands(number, word):
    assert band(number) == word


@pytest.mark.parametrize("number", [0, 11])
def test_no_band_outside(number):
    with pytest.raises(ValueError, match=str(number)):
        band(number)


# -- the running week, and whoever has no data
# ---------------------------------------------------------------------


def test_the_running_week_says_so_far():
    this = dt.date(2026, 11, 9)
    given = facts(entries=(entry(this, 10), entry(TODAY, 10), entry(TODAY + dt.timedelta(days=1), 99)))
    found = compose(given, this, TODAY)
    assert (found.finished, found.sentence.code, found.numbers[0].value, found.numbers[1].value) == (
        False, "week-days-so-far", 2, 20,
    )  # fmt: skip
    assert compose(facts(), this, TODAY).sentence.code == "week-nothing-yet"


def test_the_last_day_of_a_week_is_still_running():
    assert compose(facts(), WEEK, on(6)).finished is False
    assert compose(facts(), WEEK, on(7)).finished is True


def test_a_target_below_the_start_and_an_instrument_that_lost_the_chord():
    half = theory.INSTRUMENTS["half-size"]
    one = goal(theory=chord("E-minor", "B", 19), start_value=9, target=1, marks=(mark(on(3), 3),))
    found = compose(wren(one, instrument=half), WEEK, TODAY)
    assert found.sentence.values["what"].values == {"chord": "B"}


# -- metamorphic: one row changes what it should and nothing else
# ---------------------------------------------------

BASE = wren(landings((BEFORE, 2, False), (on(3), 3, False)), notes=(note(on(1), 0),))


def changed(after: StudentFacts) -> set[str]:
    before, now = compose(BASE, WEEK, TODAY), compose(after, WEEK, TODAY)
    found = {f.name for f in fields(before) if getattr(before, f.name) != getattr(now, f.name)}
    if "numbers" in found:
        found |= {f"number-{n}" for n in range(3) if before.numbers[n] != now.numbers[n]}
    return found - {"numbers"}


def test_one_more_entry():
    assert changed(replace(BASE, entries=(*BASE.entries, entry(on(6), 8)))) == {"number-0", "number-1"}
    assert changed(replace(BASE, entries=(*BASE.entries, entry(on(5), 8, code="b")))) == {"number-1"}
    assert changed(replace(BASE, entries=(*BASE.entries, entry(on(7), 8)))) == set()


def test_one_more_measurement():
    better = landings((BEFORE, 2, False), (on(3), 3, False), (on(5), 4, False))
    assert changed(replace(BASE, goals=(better,))) == {"sentence", "number-2", "goals"}
    later = landings((BEFORE, 2, False), (on(3), 3, False), (on(8), 4, False))
    assert changed(replace(BASE, goals=(later,))) == set()


def test_one_more_hand_note():
    assert changed(replace(BASE, notes=(*BASE.notes, note(on(5), 5)))) == {"sentence", "help", "hand", "advice"}
    assert changed(replace(BASE, notes=(*BASE.notes, note(on(5), 1)))) == {"hand"}
    assert changed(replace(BASE, notes=(*BASE.notes, note(on(5), 0)))) == {"hand"}
    assert changed(replace(BASE, hand_consent=False)) == {"hand", "advice"}


def test_another_name_stands_in_the_sentences():
    assert changed(replace(BASE, first_name="Imre")) == {"first_name", "sentence", "help"}


@given(st.lists(st.tuples(st.integers(-10, 30), st.integers(0, 5), st.booleans()), max_size=6), st.integers(-2, 9))
def test_never_an_error_and_always_three_numbers(steps, weeks):
    steps = sorted(((ago(days), value, check) for days, value, check in steps), key=lambda step: step[0])
    found = compose(wren(landings(*steps)), WEEK - dt.timedelta(weeks=weeks), TODAY)
    assert len(found.numbers) == 3
    assert found.sentence.code.startswith("week-")
    assert found.help.code.startswith("help-")


# -- on a stepwise return
# ----------------------------------------------------------------------------------------


def returning(begun, minutes=10, days=(0, 1, 3), **over):
    """On the first step, 2 times 5 minutes, since `begun`; that many minutes on these days of the week."""
    step = ReturnFacts(begun, 1, begun, 5, 60, 2)
    return wren(days=days, minutes=minutes, hand_return=step, minor=True, **over)


def beside(summary):
    return [say(number.beside) for number in summary.numbers[:2]]


def test_on_a_return_the_step_stands_in_place_of_the_plan():
    found = compose(returning(on(0)), WEEK, TODAY)
    assert beside(found) == ["on step 1 of the return", "at most 10 a day since 2 November"]
    assert say(found.sentence) == "Wren practised on 3 days, 30 minutes in all."
    assert "Step 1: 2 times 5 minutes a day" in say(found.coming_back[0])


def test_a_return_that_began_after_the_week_leaves_its_plan():
    found = compose(returning(on(8)), WEEK, TODAY)
    assert beside(found) == ["of 5 planned", "of 60 planned"]
    assert codes(found) == ("week-days", "help-return")
    assert found.coming_back  # what is said of today is said with the last week, as on the page


def test_an_older_week_says_nothing_of_todays_step():
    found = compose(returning(on(0)), WEEK, WEEK + dt.timedelta(days=21))
    assert found.coming_back == ()
    assert beside(found) == ["on step 1 of the return", "at most 10 a day since 2 November"]


def test_days_over_the_step_are_the_sentence_and_not_minutes_over_the_plan():
    found = compose(returning(on(0), minutes=40), WEEK, TODAY)
    assert say(found.sentence) == (
        "Wren played longer than the step of the return allows on 3 days; at most 10 minutes a day are agreed."
    )
    assert compose(returning(on(8), minutes=40), WEEK, TODAY).sentence.code == "week-over-plan"


def test_without_consent_the_plan_stands():
    found = compose(returning(on(0), hand_consent=False), WEEK, TODAY)
    assert (beside(found), found.coming_back) == (["of 5 planned", "of 60 planned"], ())


# -- the hand decides the page
# ---------------------------------------------------------------------------------------

THIS = dt.date(2026, 11, 9)
BARRE = goal(code="barre", marks=(mark(BEFORE, 6), mark(on(3), 6, check=True)))
PARTIAL = goal(
    code="partial", theory=chord("A-major-partial", "D", 5), title="D, A-shape at 5", target=4,
    marks=(mark(BEFORE, 2), mark(on(3), 3)), practised=((on(3), 900),),
)  # fmt: skip
OPEN = goal(
    code="open", theory=chord("open-Em", "E", None), title="Em, open", marks=(mark(BEFORE, 3), mark(on(3), 4)),
    practised=((on(3), 60),),
)  # fmt: skip

# what differs from an ache of the wrist; the headline; the way to help
ANSWERS = [
    ({"discomfort": 5}, "family-pause-barre", "help-hand-pause"),
    ({"discomfort": 5, "hand": "plucking"}, "family-pause-played", "help-hand-pause"),
    ({"discomfort": 1, "also": ("numb",)}, "family-see-barre", "help-hand-see-someone"),
    ({"discomfort": 7}, "family-severe", "help-hand-stop"),
    ({"discomfort": 0, "also": ("fell",)}, "family-injury", "help-hand-same-day"),
    ({"discomfort": 2, "also": ("fell", "snap")}, "family-injury-now", "help-hand-hospital"),
    ({"discomfort": 1, "also": ("weak",), "face_arm_leg": True}, "family-face", "help-hand-emergency"),
    ({"discomfort": 8, "place": "fingertip", "settles": "hour"}, "family-severe-skin", "help-hand-skin"),
]


@pytest.mark.parametrize(("over", "head", "way"), ANSWERS)
@pytest.mark.parametrize("week", [WEEK, THIS])
def test_while_the_hand_asks_for_a_person_the_answer_is_the_headline(over, head, way, week):
    hurt = wren(BARRE, OPEN, days=range(7), minutes=60, notes=(note(TODAY, **over),))
    found = compose(hurt, week, TODAY)
    assert codes(found) == (head, way)
    assert say(found.sentence)
    assert say(found.help)
    earlier = compose(hurt, WEEK - dt.timedelta(days=7), TODAY)
    assert earlier.sentence.code.startswith("week-")  # of a week that is long over nothing else is said
    without = compose(replace(hurt, hand_consent=False), week, TODAY)
    assert without.sentence.code.startswith("week-")


def test_a_hand_that_is_only_to_be_eased_leaves_the_headline():
    eased = wren(OPEN, notes=(note(ago(2), 1), note(ago(1), 1)))
    assert codes(compose(eased, WEEK, TODAY)) == ("week-rise", "help-hand-ease-off")


def test_what_was_felt_on_a_step_is_the_headline():
    stopped = returning(on(0), notes=(note(TODAY, 1),))
    found = compose(stopped, WEEK, TODAY)
    assert codes(found) == ("return-felt-first", "help-return-stop")
    assert [number.beside.code for number in found.numbers[:2]] == ["return-on-step", "return-earlier-step"]
    this = compose(stopped, THIS, TODAY)
    assert [number.beside.code for number in this.numbers[:2]] == ["number-days-none", "number-minutes-none"]


@pytest.mark.parametrize(("days", "back"), [((0, 1, 2), "week-can-clean"), ((), "week-can-clean")])
def test_of_what_rests_nothing_is_told_and_nothing_is_proposed(days, back):
    step = ReturnFacts(ago(2), 1, ago(2), 5, 60, 2)
    # the return began after the week: it rests today alone
    now = wren(BARRE, PARTIAL, OPEN, days=days, hand_return=step)
    found = compose(now, WEEK, TODAY)
    assert found.sentence.code == "week-rise"
    assert found.sentence.values["what"].values == {"chord": "Em"}
    assert [line.rests for line in found.goals] == [True, True, False]
    free = replace(now, hand_return=replace(step, barre=True))
    assert compose(free, WEEK, TODAY).sentence.code == back
    assert not any(line.rests for line in compose(free, WEEK, TODAY).goals)


def test_what_rested_when_the_week_was_seen_is_not_told_later():
    """Something felt on the sixth, looked at on the ninth without a closing: by a later 0 it is settled today."""
    hurt = wren(BARRE, OPEN, notes=(note(on(4), 5), note(ago(1), 0)))
    found = compose(hurt, WEEK, TODAY)
    assert found.advice.level == "nothing"
    assert found.sentence.values["what"].values == {"chord": "Em"}
    assert compose(replace(hurt, notes=()), WEEK, TODAY).sentence.values["what"].values == {"chord": "Bm"}


def test_the_way_to_help_never_is_a_goal_that_rests():
    """While a week that is long over is looked at, the hand rests today."""
    old = WEEK - dt.timedelta(days=14)
    here = old + dt.timedelta(days=3)
    much = replace(PARTIAL, marks=(mark(here, 3),), practised=((here, 900),))
    little = replace(OPEN, marks=(mark(here, 3),), practised=((here, 60),))
    given = wren(much, little, notes=(note(TODAY, 5),))
    given = replace(given, entries=(entry(here, 15),))
    assert compose(given, old, TODAY).help.values["what"].values == {"chord": "Em"}
    assert compose(replace(given, notes=()), old, TODAY).help.values["what"].values == {"chord": "D"}
    alone = replace(given, goals=(much,))
    assert compose(alone, old, TODAY).help.code == "help-listen"


def test_a_note_that_nobody_settled_for_half_a_year_does_not_bend_the_page_but_a_stop_does():
    old = ago(200)
    assert compose(wren(OPEN, notes=(note(old, 5),)), WEEK, TODAY).sentence.code == "week-rise"
    assert compose(wren(OPEN, notes=(note(old, 7),)), WEEK, TODAY).sentence.code.startswith("family-")


def test_while_the_hand_halves_the_day_the_minutes_say_so():
    hurt = wren(OPEN, notes=(note(TODAY, 5),))
    assert beside(compose(hurt, THIS, TODAY)) == ["of 5 planned", "half of it for now: 6 a day"]
    assert beside(compose(hurt, WEEK, TODAY)) == ["of 5 planned", "of 60 planned"]


def test_more_than_planned_is_named_beside_the_minutes_and_in_the_headline():
    found = compose(wren(OPEN, days=range(5), minutes=20), WEEK, TODAY)
    assert say(found.sentence) == "Wren practised 100 minutes, more than the 60 planned."
    assert beside(found) == ["of 5 planned", "more than the 60 planned"]


# -- weeks in which nothing was to be played
# ---------------------------------------------------------------------------------------


def stopped(first, last, **over):
    """A note of 8 on `first` that the teacher closed on `last`."""
    return wren(notes=(note(first, 8, closed=True, closed_on=last),), **over)


def test_a_week_of_rest_is_told_kindly():
    found = compose(stopped(on(0), on(6), days=()), WEEK, TODAY)
    assert say(found.sentence) == "Wren's hand rested; nothing was asked for this week."
    assert beside(found) == ["none asked this week", "none asked"]
    assert found.help.code == "help-listen"


def test_a_week_of_rest_in_part_asks_for_the_other_days():
    part = stopped(on(2), on(5), days=(0,), minutes=13)
    found = compose(part, WEEK, TODAY)
    assert say(found.sentence) == (
        "Wren practised on 1 day, 13 minutes in all; on the days the hand rested nothing was asked."
    )
    assert beside(found) == ["of 3 asked; the others were for rest", "of 36 asked"]
    enough = compose(replace(part, entries=tuple(entry(on(n), 13) for n in (0, 1, 6))), WEEK, TODAY)
    assert beside(enough)[0] == "more was not asked"
    nothing = compose(replace(part, entries=()), WEEK, TODAY)
    assert say(nothing.sentence) == "Nothing was logged for Wren; on the days the hand rested nothing was asked."


def test_while_it_stops_this_week_asks_for_nothing():
    found = compose(wren(notes=(note(TODAY, 8),)), THIS, TODAY)
    assert beside(found) == ["none asked this week", "none asked"]
    assert "nothing is asked for this week, and nothing has to be made up" in say(found.help)
    assert beside(compose(wren(notes=(note(TODAY, 8),)), WEEK, TODAY)) == ["of 5 planned", "of 60 planned"]
