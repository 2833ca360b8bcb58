"""The answer as it is shown first and alone: what happens next is never said before it is true, music rests the hand,
and the answers that wait in a page for the phone are those that the server would give."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice import handrows
from practice.facts import PerformanceFacts, ReturnFacts
from practice.handanswer import ADULT, CHILD, FAMILY, TEEN, UNKNOWN, VOICES, Reader
from practice.handcare import BARRE_PLACES, of_one
from practice.handday import hand_day
from practice.handshown import (
    FAILED,
    NOT_KEPT,
    TOLD,
    WAITS,
    answer_alone,
    answer_of_day,
    next_steps,
    offers_of,
    on_the_phone,
    rests_of,
    rules_beside,
)
from practice.record import HandRecord
from practice.words import say
from tests.practice import plain

READERS = {voice: Reader(voice, "Wren", "Rosamund") for voice in VOICES}
NOW = dt.datetime(2026, 11, 12, 18, 0, tzinfo=dt.UTC)


def answer(discomfort=5, voice=CHILD, place="wrist", **over):
    given = HandRecord(discomfort, "fretting", place, **over)
    return answer_alone(given, NOW, plain.TODAY, READERS[voice])


def told(discomfort, voice, state, lesson=None, **over):
    return [say(one) for one in next_steps(answer(discomfort, voice, **over), READERS[voice], state, lesson)]


# -- what happens next -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("voice", VOICES)
def test_nobody_is_said_to_be_told_before_it_is_true(voice):
    for discomfort in (5, 8):
        assert any("Rosamund is told" in line for line in told(discomfort, voice, TOLD))
        for state in (FAILED, NOT_KEPT):
            assert not any("is told" in line for line in told(discomfort, voice, state))
        assert "Rosamund is told when this phone is connected." in told(discomfort, voice, WAITS)


# to a child and other minors: show it to somebody; to an adult and a family: the telephone
@pytest.mark.parametrize(
    ("voice", "words"),
    [(CHILD, "Show this to"), (UNKNOWN, "Show this to"), (TEEN, "Show this to"), (ADULT, "Call"), (FAMILY, "Call")],
)
def test_where_no_mail_went_out_somebody_else_is_named(voice, words):
    assert told(8, voice, FAILED)[0].startswith(words)


def test_what_asks_for_nobody_tells_of_nobody():
    assert told(2, CHILD, TOLD, place="fingertip", sensation="sore") == []
    assert told(2, CHILD, NOT_KEPT, place="fingertip", sensation="sore") != []


def test_the_next_lesson_and_that_nothing_is_made_up_stand_beside_a_pause_and_a_stop_alone():
    day = plain.TODAY + dt.timedelta(days=3)
    for discomfort in (5, 8):
        assert told(discomfort, CHILD, TOLD, day)[1:] == [
            f"The next lesson is on {day.day} {day:%B}.",
            "Nothing has to be made up.",
        ]
        assert told(discomfort, CHILD, TOLD)[1:] == ["Nothing has to be made up."]
    # beside where help is to be had today nothing else is said
    assert len(told(0, CHILD, TOLD, day, also=("fell",))) == 1
    assert len(told(0, CHILD, TOLD, day, also=("numb",), face_arm_leg=True)) == 1


# -- music that rests the hand -----------------------------------------------------------------------------------------


def piece(title, **over):
    return plain.goal(code=title, kind="piece", title=title, **over)


def rests(facts, found=None, drill=None):
    made = rests_of(found or answer(8), facts, plain.TODAY, drill)
    return [(one.kind, say(one.title), one.url) for one in made]


def test_the_students_own_pieces_are_listened_to_and_notes_are_found_without_a_guitar():
    roots = plain.goal(code="r-1", kind="roots", title="Find the notes")
    shows = (
        PerformanceFacts("p", "Concert", plain.TODAY, ("Air", "Lantern over the Weir")),
        PerformanceFacts("q", "Gone", plain.TODAY - dt.timedelta(days=1), ("Old Song",)),
    )
    facts = plain.facts(goals=(piece("Air"), roots), performances=shows)
    assert rests(facts, drill=lambda code: f"/drill/{code}/") == [
        ("listen", "Air", ""),
        ("listen", "Lantern over the Weir", ""),
        ("notes", "Find five notes", "/drill/r-1/"),
    ]
    # whoever may not open the drill gets no link to it
    assert rests(facts)[-1] == ("notes", "Find five notes", "")


def test_whoever_has_nothing_to_listen_to_gets_a_line_all_the_same():
    aside = replace(piece("Air"), set_aside=True)
    assert rests(plain.facts(goals=(aside,))) == rests(None) == [("listen", "A song you like", "")]


def test_nothing_is_offered_where_help_is_called_for_or_nobody_is_asked():
    for found in (answer(0, also=("fell",)), answer(0, also=("weak",), face_arm_leg=True)):
        assert rests_of(found, None, plain.TODAY) == ()
    assert rests_of(answer(2, place="fingertip", sensation="sore"), None, plain.TODAY) == ()


def test_a_day_with_enough_played_offers_music_without_the_hand_and_the_next_piece():
    facts = plain.facts(goals=(piece("Air"),))
    kinds = [(one.kind, say(one.title)) for one in offers_of(facts, plain.TODAY)]
    assert kinds == [("listen", "Air"), ("read", "The next piece")]


# -- a step of a return ------------------------------------------------------------------------------------------------


def on_a_step(discomfort, **over):
    notes = (plain.note(plain.ago(0), discomfort, **over),)
    step = ReturnFacts(plain.ago(2), 1, plain.ago(2), 5, 60, 2)
    return hand_day(plain.facts(notes=notes, hand_return=step), plain.TODAY)


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("discomfort", range(1, 11))
def test_whatever_is_felt_on_a_step_stops_the_day_and_nothing_milder_heads_it(discomfort, voice):
    day = on_a_step(discomfort, place="wrist", hand="fretting")
    found = answer_of_day(day, READERS[voice])
    assert day.stop
    assert found.stops
    head = say(found.head)
    assert head.startswith(("Stop for today.", "No more playing today."))
    assert say(found.line)
    assert say(found.advice.why)
    assert say(found.advice.source)


def test_a_doctor_is_not_forgotten_on_a_step():
    for voice in VOICES:
        found = answer_of_day(on_a_step(2, place="wrist", hand="fretting", sensation="numb"), READERS[voice])
        assert "doctor" in say(found.head)
        assert found.advice.rule == "numb"


def test_a_step_without_anything_felt_has_no_answer():
    assert answer_of_day(on_a_step(0), READERS[ADULT]) is None


# -- what waits in the page for the phone ------------------------------------------------------------------------------

notes_ = st.builds(
    lambda discomfort, hand, place, sensation, settles, yes, also: HandRecord(
        discomfort, hand, place, sensation, settles, also=tuple(sorted(also)), **yes
    ),
    st.integers(0, 10),
    st.sampled_from(["", "fretting", "picking", "both", "middle"]),
    st.sampled_from(["", "fingertip", "index", "thumb", "palm", "wrist", "elbow", "shoulder", "neck"]),
    st.sampled_from(["", "sore", "blister", "ache", "sharp", "numb", "weak"]),
    st.sampled_from(["", "at-once", "hour", "day", "next-day", "rest"]),
    st.fixed_dictionaries(
        {name: st.sampled_from([None, True, False]) for name in ("at_rest", "daily", "tip_only", "face_arm_leg")}
    ),
    st.sets(st.sampled_from(handrows.ALSO), max_size=3),
)


@given(notes_, st.sampled_from(VOICES))
def test_the_phone_finds_by_row_and_place_what_the_server_would_say(note, voice):
    """By the table and what is given beside it alone, as hand-rules.js does."""
    beside = rules_beside()
    row = handrows.row_of(vars(note))
    here = answer_alone(note, NOW, plain.TODAY, READERS[voice])
    if row is None:
        assert here is None
        return
    where = ""
    if row.level in ("pause", "see-someone"):
        barre = note.hand in beside["barre_hands"] and note.place in beside["barre_places"]
        where = "barre" if barre else "played"
    elif row.code == "skin" and note.discomfort < beside["firm"]:
        where = "new"
    waiting = on_the_phone(READERS[voice], True, None, plain.TODAY)
    [found] = [one for one in waiting if (one.code, one.where) == (row.code, where)]
    assert (say(found.answer.head), say(found.answer.line)) == (say(here.head), say(here.line))
    assert (found.answer.level, found.answer.rule) == (here.level, here.rule) == (row.level, row.code)
    # where all playing stops, barres stop with it
    assert found.answer.stops or found.answer.advice.no_barre == here.advice.no_barre
    assert [one.kind for one in found.rests] == [one.kind for one in rests_of(here, None, plain.TODAY)]


@pytest.mark.parametrize("voice", VOICES)
def test_every_row_waits_in_the_page_once_and_says_nothing_that_is_not_true_yet(voice):
    for kept in (True, False):
        waiting = on_the_phone(READERS[voice], kept, None, plain.TODAY)
        keys = [(one.code, one.where) for one in waiting]
        assert len(keys) == len(set(keys))
        assert {code for code, _where in keys} == {row.code for row in handrows.ROWS}
        for one in waiting:
            lines = [say(step) for step in one.next]
            assert not any(line.endswith(("is told.", "play again.")) for line in lines)
            assert not any("connected" in line for line in lines) or kept
            assert kept or any("Nothing you" in line for line in lines)
            assert (one.back, one.minutes_kept, one.kept) == ("", "", kept)


def test_the_places_of_a_barre_are_the_rule_books():
    assert set(rules_beside()["barre_places"]) == {*BARRE_PLACES, ""}
    assert of_one(plain.note(plain.ago(0), 5, hand="picking")).no_barre is False
