"""The rule book of hand care: every row has a case, and worse never gives milder."""

import datetime as dt
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice.handcare import (
    LEVELS,
    OTHER_VIEWS,
    RULES,
    SIGNS,
    SKIN_SENSATIONS,
    advice,
    asks_more,
    in_force,
    is_skin,
    open_notes,
    signs,
)
from practice.queries import student_facts
from practice.words import say
from tests.factory import make_consent, make_note, make_student
from tests.practice.plain import TODAY, ago, note


def skin(day, discomfort, **over):
    return note(day, discomfort, "fingertip", **({"sensation": "sore", "settles": "day"} | over))


# row of the book, notes, answer, rule
CASES = [
    ("no note", [], "nothing", ""),
    ("all is well", [note(TODAY, 0)], "nothing", ""),
    ("1 to 3 once", [note(TODAY, 3)], "nothing", ""),
    ("1 to 3 twice in seven days", [note(ago(6), 1), note(TODAY, 1)], "ease-off", "two-days"),
    ("1 to 3 twice in eight days", [note(ago(7), 1), note(TODAY, 1)], "nothing", ""),
    ("at two places", [note(ago(3), 1, "thumb"), note(TODAY, 2)], "ease-off", "two-days"),
    ("a rise of 2", [note(ago(3), 0, place="wrist", hand="fretting"), note(TODAY, 2)], "ease-off", "rise"),
    ("a rise of 2 from all is well", [note(ago(3), 0), note(TODAY, 2)], "ease-off", "rise"),
    ("a rise of 1", [note(ago(3), 0), note(TODAY, 1)], "nothing", ""),
    ("a fall of 2", [note(ago(3), 2), note(TODAY, 0)], "nothing", ""),
    ("1 to 3 on three days", [note(ago(d), 2) for d in (4, 2, 0)], "ease-off", "two-days"),
    ("1 to 3 on four days", [note(ago(d), 2) for d in (6, 4, 2, 0)], "pause", "four-days"),
    ("four notes on one day", [note(TODAY, 2, hour=h) for h in (9, 10, 11, 12)], "ease-off", "two-days"),
    ("4 once", [note(TODAY, 4)], "pause", "firm"),
    ("4 a month ago, nothing since", [note(ago(30), 4)], "pause", "firm"),
    ("4, then all is well", [note(ago(3), 4), note(TODAY, 0)], "nothing", ""),
    ("4, then 1 at the same place", [note(ago(9), 4), note(TODAY, 1)], "nothing", ""),
    ("4, then 1 at another place", [note(ago(9), 4), note(TODAY, 1, "thumb")], "pause", "firm"),
    ("4, closed by the teacher", [note(ago(1), 4, closed=True)], "nothing", ""),
    ("10 in the shoulder", [note(TODAY, 10, "shoulder")], "pause", "firm"),
    ("4 on repeated days", [note(ago(8), 4), note(TODAY, 4)], "see-someone", "repeated"),
    ("4 on days far apart", [note(ago(14), 4), note(TODAY, 4)], "pause", "firm"),
    ("4 twice on one day", [note(TODAY, 4, hour=9), note(TODAY, 5, hour=18)], "pause", "firm"),
    ("numb", [note(TODAY, 2, sensation="numb")], "see-someone", "numb"),
    ("numb without discomfort", [note(TODAY, 0, place="thumb", sensation="numb")], "see-someone", "numb"),
    ("weak", [note(TODAY, 1, sensation="weak")], "see-someone", "weak"),
    ("also at rest", [note(TODAY, 2, settles="rest")], "see-someone", "rest"),
    ("still there next day", [note(TODAY, 2, settles="next-day")], "see-someone", "next-day"),
    ("at rest by the question", [note(TODAY, 4, at_rest=True)], "see-someone", "rest"),
    ("in the way of daily tasks", [note(TODAY, 4, daily=True)], "see-someone", "daily"),
    ("sudden and on one side", [note(TODAY, 4, sudden=True)], "see-someone", "sudden"),
    ("sudden numbness", [note(TODAY, 2, sensation="numb", sudden=True)], "see-someone", "sudden"),
    ("three times no", [note(TODAY, 4, at_rest=False, daily=False, sudden=False)], "pause", "firm"),
    ("most of it left after ten minutes", [note(TODAY, 3, rested=3)], "nothing", ""),
    ("numb, then well", [note(ago(2), 2, sensation="numb"), note(TODAY, 0)], "nothing", ""),
    ("numb, then less but numb", [note(ago(2), 4, sensation="numb"), note(TODAY, 1, sensation="numb")],
     "see-someone", "numb"),
    ("4, then 1 with a sign that is closed", [note(ago(2), 4), note(TODAY, 1, sensation="numb", closed=True)],
     "pause", "firm"),
    ("sore fingertip once", [skin(TODAY, 3)], "nothing", ""),
    ("sore fingertips twice", [skin(ago(1), 2), skin(TODAY, 3)], "ease-off", "skin"),
    ("very sore fingertips all week", [skin(ago(d), 8) for d in range(6, -1, -1)], "ease-off", "skin"),
    ("sore fingertip next day", [skin(TODAY, 2, settles="next-day")], "see-someone", "next-day"),
    ("very sore, settling unknown", [skin(TODAY, 4, settles="")], "pause", "firm"),
    ("tip numb for an hour", [skin(TODAY, 2, sensation="numb", settles="hour")], "ease-off", "numb-tip"),
    ("tip numb, settling unknown", [skin(TODAY, 2, sensation="numb", settles="")], "see-someone", "numb"),
    ("tip numb till next day", [skin(TODAY, 2, sensation="numb", settles="next-day")], "see-someone", "numb"),
    ("dented tips twice", [skin(ago(d), 2, sensation="dented") for d in (1, 0)], "ease-off", "skin"),
    ("broken skin", [skin(TODAY, 6, sensation="broken")], "ease-off", "skin"),
    ("sore tip felt at the keyboard", [skin(TODAY, 6, daily=True, sudden=True)], "ease-off", "skin"),
    ("sore tip that wakes one", [skin(TODAY, 2, at_rest=True)], "see-someone", "rest"),
    ("tip ache is no skin", [skin(TODAY, 4, sensation="ache")], "pause", "firm"),
    ("numb finger, the tip alone", [note(TODAY, 2, "index", sensation="numb", tip_only=True)], "ease-off", "numb-tip"),
    ("numb tip, asked: no", [skin(TODAY, 2, sensation="numb", settles="hour", tip_only=False)], "see-someone", "numb"),
    ("numb wrist cannot be the tip", [note(TODAY, 2, sensation="numb", tip_only=True)], "see-someone", "numb"),
    ("numb tip, yet till next day", [skin(TODAY, 2, sensation="numb", settles="next-day", tip_only=True)],
     "see-someone", "numb"),
    ("numb tip, sudden", [skin(TODAY, 2, sensation="numb", settles="hour", tip_only=True, sudden=True)],
     "see-someone", "sudden"),
    ("sore tip beside a wrist", [skin(ago(1), 3), note(TODAY, 1)], "nothing", ""),
    ("tomorrow", [note(ago(-1), 9)], "nothing", ""),
]  # fmt: skip


@pytest.mark.parametrize(("notes", "level", "rule"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_each_row_of_the_book(notes, level, rule):
    found = advice(notes, TODAY)
    assert (found.level, found.rule) == (level, rule)
    assert bool(found.says) == (level != "nothing")
    assert (found.source is not None) == (level != "nothing")
    assert (found.note in notes) == (level != "nothing")
    assert found.ask_person == (level in ("pause", "see-someone"))
    assert found.checks_strings == (found.ask_person or rule == "skin")
    assert (found.other_view is not None) == (rule in OTHER_VIEWS)


def test_every_row_of_the_book_has_a_case_and_the_other_view_where_science_disagrees():
    assert {rule for _name, _notes, _level, rule in CASES} == {*RULES, ""}
    # rest: Stanhope & Weinstein 2021; bands: Serlin 1995, Boonstra 2016; the smallest change: Salaffi 2004 (published)
    named = {rule: say(replace(advice([note(TODAY, 4)], TODAY), rule=rule).other_view) for rule in OTHER_VIEWS}
    assert all("Stanhope" in named[rule] for rule in (*SIGNS, "firm", "four-days"))
    assert all("Serlin" in named[rule] and "Boonstra" in named[rule] for rule in ("firm", "four-days", "two-days"))
    assert "Salaffi" in named["rise"]


def test_no_answer_contradicts_another_in_one_breath():
    """Whoever should see a doctor first is not told in the same breath to wait for the teacher."""
    for sensation in ("numb", "weak"):
        for place in ("wrist", "shoulder"):
            codes = [one.code for one in advice([note(TODAY, 3, place, sensation=sensation)], TODAY).says]
            assert not {"advice-pause-barre", "advice-pause-played"} & set(codes)
            assert codes.index("advice-see-someone") + 1 == codes.index(
                "advice-until-barre" if place == "wrist" else "advice-until-played"
            )


# hand, place, whether it is barre work that is paused
@pytest.mark.parametrize(
    ("hand", "place", "barre"),
    [
        ("fretting", "wrist", True),
        ("fretting", "thumb", True),
        ("both", "forearm", True),
        ("fretting", "elbow", True),
        ("fretting", "shoulder", False),
        ("fretting", "neck", False),
        ("middle", "neck", False),
        ("picking", "wrist", False),
    ],
)
def test_what_is_paused_follows_the_place(hand, place, barre):
    found = advice([note(TODAY, 5, place, hand=hand)], TODAY)
    codes = [one.code for one in found.says]
    assert found.no_barre is barre
    assert ("advice-pause-barre" in codes) is barre
    assert ("advice-pause-played" in codes) is not barre
    assert ("advice-posture" in codes) is not barre


def test_numbness_names_emergency_services_and_nothing_is_diagnosed():
    for level in ("numb", "weak"):
        codes = [one.code for one in advice([note(TODAY, 3, sensation=level)], TODAY).says]
        assert "advice-emergency" in codes
        assert codes[-1] == "advice-no-diagnosis"


# said to be sudden and on one side: numb or weak is for the emergency services at once, else they are named first
@pytest.mark.parametrize(
    ("sensation", "first"),
    [("numb", "advice-emergency-now"), ("weak", "advice-emergency-now"), ("ache", "advice-emergency")],
)
def test_sudden_on_one_side_begins_with_emergency_services(sensation, first):
    codes = [one.code for one in advice([note(TODAY, 5, sensation=sensation, sudden=True)], TODAY).says]
    assert codes[0] == first
    assert codes.count("advice-emergency") == (first == "advice-emergency")
    assert ("advice-see-someone" in codes) is (first == "advice-emergency")
    # nothing about strings or barres makes an emergency sound like less
    urgent = ["advice-emergency-now", "advice-emergency-after", "advice-no-diagnosis"]
    assert (codes == urgent) is (first == "advice-emergency-now")


def test_broken_skin_is_let_to_close_first():
    codes = [one.code for one in advice([skin(TODAY, 5, sensation="blister")], TODAY).says]
    assert codes == ["advice-skin-closes", "advice-skin-bouts", "advice-skin-strings"]


@pytest.mark.parametrize(
    ("notes", "level"),
    [
        ([note(TODAY, 2, sensation="weak")], "see-someone"),
        ([note(TODAY, 5)], "pause"),
        ([note(ago(1), 2), note(TODAY, 2)], "ease-off"),
    ],
)
def test_an_answer_that_no_source_gives_whole_is_called_a_synthesis(notes, level):
    found = advice(notes, TODAY)
    assert found.level == level
    assert "synthesis" in say(found.source)
    assert say(found.why).startswith("The rule:")


@pytest.mark.parametrize(
    ("discomfort", "sensation", "asked"),
    [(3, "ache", False), (4, "ache", True), (0, "numb", True), (1, "weak", True), (0, "", False)],
)
def test_when_the_three_questions_are_asked(discomfort, sensation, asked):
    assert asks_more(discomfort, sensation) is asked


def test_a_strong_note_in_force_does_not_hide_a_sign():
    notes = [note(ago(1), 9, "shoulder"), note(TODAY, 1, "thumb", sensation="numb")]
    assert advice(notes, TODAY).rule == "numb"


def test_open_notes_as_the_query_has_it():
    wrist, thumb = note(ago(9), 5), note(ago(9), 2, "thumb")
    assert open_notes([wrist, thumb]) == (wrist, thumb)
    assert open_notes([note(ago(9), 1)]) == ()
    assert open_notes([wrist, thumb, note(ago(3), 1)]) == (thumb,)
    assert open_notes([wrist, thumb, note(ago(3), 0)]) == ()
    assert open_notes([wrist, note(ago(3), 2)]) == (wrist, note(ago(3), 2))
    assert open_notes([note(ago(10), 0), wrist]) == (wrist,)
    assert open_notes([replace(wrist, closed=True), thumb]) == (thumb,)
    assert open_notes([wrist, note(ago(3), 1, "elbow")]) == (wrist,)


def test_signs_of_one_note_in_order():
    assert signs(note(TODAY, 3)) == ()
    assert signs(note(TODAY, 3, sensation="numb", settles="next-day")) == ("numb", "next-day")
    assert signs(note(TODAY, 3, sensation="sharp", settles="hour")) == ()
    assert signs(note(TODAY, 4), [note(ago(13), 4)]) == ("repeated",)
    assert signs(note(TODAY, 4), [note(ago(14), 4)]) == ()
    assert signs(note(TODAY, 4), [note(ago(3), 3)]) == ()
    assert signs(note(TODAY, 4), [note(ago(3), 4, closed=True)]) == ()
    assert signs(note(TODAY, 4), [skin(ago(3), 6)]) == ()


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(8))
def test_the_query_and_the_rule_find_the_same_open_notes(seed):
    """practice.queries.HandNoteQuerySet.open says in SQL what open_notes says of plain values."""
    draw = random.Random(seed)
    student, other = make_student(), make_student()
    make_consent(student)
    for hour in range(14):
        when = dt.datetime(2026, 11, 1, 9, tzinfo=dt.UTC) + dt.timedelta(hours=draw.randrange(300), minutes=hour)
        over = {"day": when.date(), "at": when, "discomfort": draw.randrange(5)}
        if over["discomfort"]:
            over["place"] = draw.choice(["wrist", "thumb", "fingertip"])
        if draw.random() < 0.2:
            over["closed_at"] = when + dt.timedelta(hours=1)
        make_note(draw.choice([student, student, other]), **over)
    facts = student_facts(student, TODAY).notes
    wanted = {row.at for row in student.hand_notes.open()}
    assert {one.at for one in open_notes(facts)} == wanted
    assert 0 < len(facts) < 14


places = st.sampled_from(["fingertip", "index", "wrist", "shoulder"])
sensations = st.sampled_from(["", "sore", "broken", "ache", "sharp", "numb", "weak"])
answers = st.sampled_from([None, False, True])
settlings = st.sampled_from(["", "at-once", "hour", "day", "next-day", "rest"])


@st.composite
def drawn(draw):
    hours = draw(st.lists(st.integers(0, 24 * 20), max_size=7, unique=True))
    found = []
    for back in sorted(hours, reverse=True):
        when = dt.datetime(2026, 11, 12, 23, tzinfo=dt.UTC) - dt.timedelta(hours=back)
        one = note(
            when.date(), draw(st.integers(0, 10)), draw(places), when.hour, hand="fretting",
            sensation=draw(sensations), settles=draw(settlings), closed=draw(st.booleans()),
            at_rest=draw(answers), daily=draw(answers), sudden=draw(answers), tip_only=draw(answers),
        )  # fmt: skip
        if draw(st.integers(0, 5)) == 0:
            one = note(one.day, 0, "", one.at.hour, hand="")
        found.append(one)
    return found


@given(drawn(), st.data())
def test_a_worse_note_never_yields_a_milder_answer(notes, data):
    if not notes:
        return
    which = data.draw(st.integers(0, len(notes) - 1))
    before = notes[which]
    worse = replace(before, discomfort=data.draw(st.integers(before.discomfort, 10)))
    if not before.place and worse.discomfort:  # what is felt says where
        worse = replace(worse, place="wrist", hand="fretting")
    after = [*notes[:which], worse, *notes[which + 1 :]]
    assert advice(after, TODAY).strictness >= advice(notes, TODAY).strictness


@given(drawn(), st.data())
def test_settling_later_never_yields_a_milder_answer(notes, data):
    order = ["at-once", "hour", "day", "next-day", "rest"]
    known = [n for n, one in enumerate(notes) if one.settles in order]
    if not known:
        return
    which = data.draw(st.sampled_from(known))
    later = data.draw(st.sampled_from(order[order.index(notes[which].settles) :]))
    after = [*notes[:which], replace(notes[which], settles=later), *notes[which + 1 :]]
    assert advice(after, TODAY).strictness >= advice(notes, TODAY).strictness


@given(drawn(), st.data(), st.sampled_from(["at_rest", "daily", "sudden", "tip_only"]))
def test_a_worse_answer_never_yields_a_milder_one(notes, data, question):
    if not notes:
        return
    which = data.draw(st.integers(0, len(notes) - 1))
    # "only at the tip and gone within the hour?" is worse when it is no, the three others when it is yes
    worse = replace(notes[which], **{question: question != "tip_only"})
    after = [*notes[:which], worse, *notes[which + 1 :]]
    assert advice(after, TODAY).strictness >= advice(notes, TODAY).strictness


@given(drawn(), st.data())
def test_more_left_after_ten_minutes_rest_never_yields_a_milder_answer(notes, data):
    """More rest taken (less of it left) never yields a stricter answer: what is left is no row's business."""
    if not notes:
        return
    which = data.draw(st.integers(0, len(notes) - 1))
    less, more = sorted(data.draw(st.integers(0, notes[which].discomfort)) for _ in range(2))
    rested, not_rested = (
        [*notes[:which], replace(notes[which], rested=left), *notes[which + 1 :]] for left in (less, more)
    )
    assert advice(rested, TODAY).strictness <= advice(not_rested, TODAY).strictness


@given(drawn(), st.integers(1, 60))
def test_more_days_of_rest_never_yield_a_stricter_answer(notes, days):
    later = TODAY + dt.timedelta(days=days)
    assert advice(notes, later).strictness <= advice(notes, TODAY).strictness


@given(drawn())
def test_all_is_well_ends_every_pause(notes):
    well = note(ago(-1), 0)
    found = advice([*notes, well], ago(-1))
    days = {one.day for one in notes if one.day > ago(6) and one.discomfort and not one.closed}
    assert found.level != "see-someone"
    assert found.level != "pause" or len(days) >= 4


@given(drawn())
def test_skin_alone_never_pauses(notes):
    notes = [
        replace(
            one, place="fingertip", hand="fretting", sensation=SKIN_SENSATIONS[n % 4], settles="day", at_rest=False
        )
        for n, one in enumerate(notes)
    ]
    assert all(is_skin(one) for one in notes)
    assert LEVELS.index(advice(notes, TODAY).level) <= LEVELS.index("ease-off")


@given(drawn())
def test_open_notes_without_sign_are_in_force(notes):
    assert set(open_notes(notes)) <= set(in_force(notes))
