"""The root drill: what is asked and how it is marked, the page without a script, and the one entry that is stored."""

import datetime as dt
import json
import random
import re
import uuid
from html import unescape

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from practice.drillwork import (
    ASKS,
    FRETS,
    choices,
    drill_of,
    page_data,
    read_history,
    walk_text,
    write_history,
)
from practice.models import PracticeEntry, Result
from practice.progress import first_tries
from practice.queries import student_facts
from studio import theory
from tests.factory import NOW, TODAY, make_consent, make_entry, make_goal, make_note, make_result, make_roots_goal

STEEL = theory.INSTRUMENTS["steel-string"]


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


# -- what is asked, and what each answer is worth ------------------------------------------------------------------

# MIDI numbers, 6th string first; middle C is 60 and a semitone 1 (MIDI 1.0). The tunings: common practice, no source.
TUNINGS = {
    "E2 A2 D3 G3 B3 E4": (40, 45, 50, 55, 59, 64),
    "D2 A2 D3 G3 B3 E4": (38, 45, 50, 55, 59, 64),
    "D2 G2 D3 G3 B3 D4": (38, 43, 50, 55, 59, 62),
}
# semitones above C of the letters (any textbook), and what the signs do
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SIGNS = {"": 0, "#": 1, "b": -1}


def semitone(name):
    return (LETTERS[name[0]] + SIGNS[name[1:]]) % 12


@pytest.mark.parametrize("tuning", TUNINGS)
@pytest.mark.parametrize("string", range(1, 7))
@pytest.mark.parametrize("asks", ["find", "name"])
def test_every_mark_on_the_page_is_right_by_arithmetic_and_is_the_cores(tuning, string, asks):
    instrument = STEEL.with_(tuning=tuning)
    drill = drill_of(theory.Goal(kind="roots", string=string), instrument, asks)
    data = json.loads(json.dumps(page_data(drill, "seconds", known=True)))
    open_midi = TUNINGS[tuning][-string]
    asked = drill.whole
    assert sorted((question.fret + open_midi) % 12 for question in asked) == list(range(12))
    checked = 0
    for question in asked:
        sent = data["questions"][question.id]
        assert set(sent["marks"]) == {answer for group in choices(drill) for answer in group}
        for answer, (right, said) in sent["marks"].items():
            if asks == "find":
                assert right is ((open_midi + int(answer)) % 12 == semitone(str(question.note)))
            else:
                assert right is (semitone(answer) == (open_midi + question.fret) % 12)
            mark = theory.mark(question, answer)
            assert (right, said) == (mark.right, mark.text)
            checked += 1
        assert sent["text"] == question.text
        assert sum(right for right, _ in sent["marks"].values()) in ({1} if asks == "find" else {1, 2})
        walk = theory.count_up(string, question.note, instrument)
        assert sent["walk"] in ("", f"Count up: {walk.text}.")
        assert sent["walk"] or walk.fret == 0
    assert checked == 12 * (12 if asks == "find" else 17)


def test_a_missed_note_is_counted_up_in_words():
    drill = drill_of(theory.Goal(kind="roots", string=6), STEEL)
    g = next(question for question in drill.whole if str(question.note) == "G")
    sent = page_data(drill, "seconds", known=False)["questions"][g.id]
    # common practice, no source: the alphabet along the 6th string
    assert sent["marks"]["5"] == [False, "G on the 6th string is at fret 3."]
    assert sent["walk"] == "Count up: open E, F 1, G 3."
    assert sent["marks"]["3"] == [True, "Right: G is at fret 3."]


def test_both_enharmonic_names_are_right_and_the_keys_own_is_said():
    drill = drill_of(theory.Goal(kind="roots", string=6, key="F"), STEEL, "name")
    flat = next(question for question in drill.whole if question.fret == 6)
    marks = page_data(drill, "seconds", known=True)["questions"][flat.id]["marks"]
    assert marks["Bb"] == [True, "Right: Bb."]
    assert marks["A#"] == [True, "Right: A#. In F major it is written Bb."]
    assert marks["B"][0] is False


def test_a_keys_own_name_can_be_tapped_where_it_is_none_of_the_seventeen():
    drill = drill_of(theory.Goal(kind="roots", string=6, key="F#"), STEEL, "name")
    naturals, between = choices(drill)
    assert "E#" in naturals
    assert len(between) == 10
    assert drill_of(theory.Goal(kind="roots", string=6), STEEL, "name").whole[0].asks == "name"


def test_the_seven_come_first_and_twelve_once_each_was_right_twice():
    drill = drill_of(theory.Goal(kind="roots", string=5), STEEL)
    assert (len(drill.first), len(drill.whole)) == (7, 12)
    assert drill.asked(()) == drill.first
    twice = [theory.Answer(question.id, True) for question in drill.first] * 2
    assert drill.asked(twice[:-1]) == drill.first
    assert drill.asked(twice) == drill.whole
    assert drill.asked([*twice, theory.Answer(drill.first[0].id, False)]) == drill.first
    assert drill.asked((), known=True) == drill.whole


# semitones above C: the naturals, and all twelve
NATURALS = set(LETTERS.values())


@pytest.mark.parametrize(
    ("notes", "asked"),
    [
        ((), set(range(12))),
        (("twelve",), set(range(12))),
        (("naturals",), NATURALS),
        (("A#", "E", "Fb", "Bb"), {10, 4}),  # one place is asked once
    ],
)
def test_the_notes_of_the_goal_are_asked(notes, asked):
    drill = drill_of(theory.Goal(kind="roots", string=5, notes=notes), STEEL)
    found = [semitone(str(question.note)) for question in drill.whole]
    assert (set(found), len(found)) == (asked, len(asked))


def test_named_notes_keep_the_names_that_the_teacher_wrote():
    drill = drill_of(theory.Goal(kind="roots", string=5, notes=("A#", "E", "Fb", "Bb")), STEEL)
    assert [str(question.note) for question in drill.whole] == ["A#", "E"]
    assert drill.first == drill.whole


def test_a_capo_of_the_goal_counts():
    plain = drill_of(theory.Goal(kind="roots", string=6), STEEL)
    capo = drill_of(theory.Goal(kind="roots", string=6, capo=3), STEEL)
    # a chord keeps the name it is fingered by, so the walk is the same (studio.theory.drill)
    assert [question.fret for question in capo.whole] == [question.fret for question in plain.whole]
    assert capo.instrument.capo == 3


@pytest.mark.parametrize(
    "goal",
    [
        theory.Goal(kind="roots", string=9),
        theory.Goal(kind="roots"),
        theory.Goal(kind="roots", string=6, notes=("H",)),
    ],
)
def test_what_cannot_be_drilled_is_a_theory_error(goal):
    for asks in ASKS:
        with pytest.raises(theory.TheoryError):
            drill_of(goal, STEEL, asks)


def test_a_short_neck_offers_the_frets_that_it_has():
    short = theory.INSTRUMENTS["half-size"].with_(capo=10)
    drill = drill_of(theory.Goal(kind="roots", string=6), short)
    assert len(choices(drill)[0]) == short.last_fret + 1 < FRETS
    assert len(drill.whole) == short.last_fret + 1
    for question in drill.whole:
        assert isinstance(walk_text(drill, question), str)
    with pytest.raises(theory.OffNeck):
        drill_of(theory.Goal(kind="roots", string=6, notes=("Eb",)), short)


@given(st.lists(st.tuples(st.integers(0, 11), st.booleans()), max_size=90))
def test_remembered_answers_are_read_back(answers):
    drill = drill_of(theory.Goal(kind="roots", string=4), STEEL)
    history = [theory.Answer(drill.whole[number].id, right) for number, right in answers]
    assert list(read_history(write_history(history), drill)) == history[-60:]


@given(st.text(max_size=300))
def test_any_text_is_read_as_some_history(text):
    drill = drill_of(theory.Goal(kind="roots", string=4), STEEL)
    for answer in read_history(text + " find-4-2:1", drill):
        assert answer.question in drill.by_id


# -- the page ------------------------------------------------------------------------------------------------------


def at(goal, name="s-drill", student=None):
    return reverse(f"practice:{name}", args=[(student or goal.student).code, goal.code])


def text_of(response):
    return unescape(response.content.decode())


def fields_of(page):
    """The hidden fields of the form that asks."""
    form = re.search(r"<form[^>]*data-answers.*?</form>", page, flags=re.S)[0]
    return dict(re.findall(r'<input type="hidden" name="(asks|question|history)" value="([^"]*)"', form))


def heading(page):
    return re.search(r"<h2 data-question[^>]*>(.*?)</h2>", page)[1]


def said(page):
    mark = re.search(r"data-mark>(.*?)</p>", page, flags=re.S)[1]
    return re.sub(r"<[^>]*>", "", mark).strip()


@pytest.mark.parametrize("asks", ASKS)
def test_the_page_asks_a_question_with_its_answers_as_buttons(cast, asks):
    goal = make_roots_goal(cast.student)
    page = text_of(cast.client("student").get(at(goal), {"asks": asks}))
    assert "<h1>Roots, 6th string</h1>" in page
    assert "6th string" in heading(page)
    count = {"find": 12, "name": 17, "guitar": 3}[asks]
    assert len(re.findall(r'<button name="answer"', page)) == count
    data = json.loads(re.search(r'<script id="drill-data"[^>]*>(.*?)</script>', page, flags=re.S)[1])
    assert (data["asks"], len(data["first"]), len(data["whole"]), data["known"]) == (asks, 7, 12, False)
    # seven first: without a history, the question is a natural
    assert "#" not in heading(page)


def test_a_goal_that_was_measured_is_asked_whole(cast):
    goal = make_roots_goal(cast.student)
    make_result(goal, 70, day=TODAY - dt.timedelta(days=3))
    page = text_of(cast.client("student").get(at(goal)))
    assert json.loads(re.search(r'type="application/json">(.*?)</script>', page)[1])["known"] is True
    assert "last <b>70 s</b>" in page


def test_without_a_script_each_answer_is_marked_and_the_missed_come_again(cast):
    goal = make_roots_goal(cast.student)
    client = cast.client("student")
    drill = drill_of(goal.theory, STEEL)
    asked = fields_of(text_of(client.get(at(goal))))
    wrong = (drill.by_id[asked["question"]].fret + 1) % 12
    page = text_of(client.post(at(goal), asked | {"answer": str(wrong)}))
    missed = drill.by_id[asked["question"]]
    assert said(page).startswith(f"■ {theory.mark(missed, wrong).text}")
    assert walk_text(drill, missed) in said(page)
    fields = fields_of(page)
    assert fields["history"] == f"{missed.id}:0"
    assert fields["question"] != missed.id
    page = text_of(client.post(at(goal), fields | {"answer": str(drill.by_id[fields["question"]].fret)}))
    assert said(page).startswith("● Right: ")
    assert len(fields_of(page)["history"].split()) == 2
    assert Result.objects.count() == PracticeEntry.objects.count() == 0


def test_without_a_script_twelve_come_when_the_seven_sit(cast, monkeypatch):
    monkeypatch.setattr("random.random", random.Random(4).random)
    goal = make_roots_goal(cast.student)
    client = cast.client("student")
    drill = drill_of(goal.theory, STEEL)
    history = write_history([theory.Answer(question.id, True) for question in drill.first] * 2)
    seen = {
        fields_of(
            text_of(client.post(at(goal), {"asks": "find", "history": history, "question": "find-6-4", "answer": "0"}))
        )["question"]
        for _ in range(60)
    }
    assert {question.id for question in drill.whole[7:]} <= seen


def test_on_the_guitar_the_place_is_shown_before_the_player_judges(cast):
    goal = make_roots_goal(cast.student)
    client = cast.client("student")
    asked = {"asks": "guitar", "question": "find-6-7", "history": ""}
    page = text_of(client.post(at(goal), asked | {"answer": "found"}))
    assert said(page) == "G on the 6th string is at fret 3. Count up: open E, F 1, G 3."
    assert fields_of(page) == asked
    page = text_of(client.post(at(goal), asked | {"answer": "wrong"}))
    assert fields_of(page)["history"] == "find-6-7:0"
    page = text_of(client.post(at(goal), asked | {"answer": "right"}))
    assert fields_of(page)["history"] == "find-6-7:1"


@pytest.mark.parametrize("asks", ASKS)
@pytest.mark.parametrize("answer", ["", "-1", "99", "H", "²", "x" * 5000, "\x00", None])
def test_what_is_no_answer_is_told_and_the_question_stays(cast, asks, answer):
    goal = make_roots_goal(cast.student)
    question = "name-6-7" if asks == "name" else "find-6-7"
    sent = {"asks": asks, "question": question, "history": ""} | ({} if answer is None else {"answer": answer})
    response = cast.client("student").post(at(goal), sent)
    assert response.status_code == 200
    page = text_of(response)
    assert "Tap one of the answers." in said(page)
    assert fields_of(page)["question"] == question


@pytest.mark.parametrize("question", ["", "find-5-7", "name-6-7", "x", "\x00", "find-6-7" * 900])
def test_a_question_of_another_drill_is_passed_over(cast, question):
    goal = make_roots_goal(cast.student)
    response = cast.client("student").post(at(goal), {"asks": "find", "question": question, "answer": "3"})
    assert response.status_code == 200
    assert fields_of(text_of(response))["history"] == ""


def test_a_goal_that_this_instrument_cannot_have_says_so(cast):
    goal = make_roots_goal(cast.student, string=7)
    response = cast.client("student").get(at(goal))
    assert response.status_code == 200
    assert "Ask your teacher to set the goal anew." in text_of(response)
    assert "drill.js" not in text_of(response)


def test_the_practice_page_leads_to_the_drill_of_roots_and_to_no_other(cast):
    roots, chord = make_roots_goal(cast.student), make_goal(cast.student)
    page = text_of(cast.client("student").get(f"/s/{cast.student.code}/"))
    assert at(roots) in page
    assert at(chord) not in page


def test_queries_do_not_grow(cast, count_queries):
    goal = make_roots_goal(cast.student)
    few = count_queries(cast.client("student"), at(goal))
    for days in range(1, 40):
        make_result(goal, 70, day=TODAY - dt.timedelta(days=days))
    # session, the link's student, goal, last result; consent, hand notes, an open return
    assert count_queries(cast.client("student"), at(goal)) == few <= 7


# -- storing: an entry of the phone's queue, as any other (tests/practice/test_sync.py) ------------------------------


def sent(goal, ago=130, seconds=95, value=48, **over):
    """What drill.js sends of a drill."""
    results = [] if value is None else [{"goal": str(goal.code), "measure": goal.measure, "value": value}]
    return {
        "code": str(uuid.uuid4()),
        "begun": (NOW - dt.timedelta(seconds=ago)).isoformat(),
        "seconds": seconds,
        "segments": [{"goal": str(goal.code), "seconds": seconds}],
        "results": results,
        **over,
    }


def send(cast, goal, data, who="student", student=None):
    address = reverse("practice:s-entry", args=[(student or goal.student).code, data["code"]])
    return cast.client(who).put(address, json.dumps(data), content_type="application/json")


def test_a_drill_is_stored_as_an_entry_of_the_goal(cast):
    goal = make_roots_goal(cast.student)
    data = sent(goal)
    assert (send(cast, goal, data).status_code, send(cast, goal, data).status_code) == (201, 200)
    entry = PracticeEntry.objects.get()
    assert (str(entry.code), entry.seconds, entry.by, entry.day) == (data["code"], 95, "student", TODAY)
    assert entry.begun == NOW - dt.timedelta(seconds=130)
    assert [(part.goal, part.seconds) for part in entry.segments.all()] == [(goal, 95)]
    result = Result.objects.get()
    assert (result.goal, result.measure, result.value, result.entry) == (goal, "seconds", 48, entry)
    assert entry.tiring is None
    assert "last <b>48 s</b>" in text_of(cast.client("student").get(at(goal)))


def test_practice_without_a_measured_round_is_stored_without_a_result(cast):
    goal = make_roots_goal(cast.student, measure="right", target=20, notes=("naturals",))
    assert send(cast, goal, sent(goal, value=None)).status_code == 201
    assert (PracticeEntry.objects.get().seconds, Result.objects.count()) == (95, 0)


def test_the_days_first_drill_speaks_for_the_day(cast):
    goal = make_roots_goal(cast.student)
    send(cast, goal, sent(goal, ago=4000, value=70))
    send(cast, goal, sent(goal, ago=600, value=45))
    facts = student_facts(cast.student, TODAY)
    assert [mark.value for mark in first_tries(facts.goals[0], TODAY)] == [70]


def test_a_drill_inside_a_session_that_was_logged_is_not_lost(cast):
    goal, other = make_roots_goal(cast.student), make_goal(cast.student)
    make_entry(cast.student, begun=NOW - dt.timedelta(minutes=30), seconds=1800)
    assert send(cast, goal, sent(goal)).status_code == 201
    assert PracticeEntry.objects.count() == 2
    # what is no drill, or a drill and more, is still held against it
    shared = [{"goal": str(one.code), "seconds": seconds} for one, seconds in ((goal, 60), (other, 35))]
    for segments in (shared, shared[:1], [shared[1] | {"seconds": 95}], []):
        assert list(send(cast, goal, sent(goal, segments=segments)).json()["errors"]) == ["begun"]
    assert PracticeEntry.objects.count() == 2


def test_a_session_round_a_drill_is_not_taken_for_the_same_one(cast):
    goal = make_roots_goal(cast.student)
    send(cast, goal, sent(goal, ago=600))
    session = {"code": str(uuid.uuid4()), "day": TODAY.isoformat(), "start": "17:30", "total": "25", "note": ""}
    assert cast.client("student").post(f"/s/{cast.student.code}/log/", session).status_code == 302
    assert PracticeEntry.objects.count() == 2
    # while a session that is no drill still is
    twice = session | {"code": str(uuid.uuid4()), "total": "20"}
    assert "is already logged" in text_of(cast.client("student").post(f"/s/{cast.student.code}/log/", twice))
    assert PracticeEntry.objects.count() == 2


@pytest.mark.parametrize(
    ("over", "field"),
    [
        ({"value": 4}, "results.0.value"),  # the measure begins at 5 s
        ({"value": 48.3}, "results.0.value"),
        ({"seconds": 28801}, "seconds"),
        ({"ago": 100, "seconds": 3000}, "begun"),  # would end in the future
    ],
)
def test_bad_values_are_refused_by_field_and_nothing_is_stored(cast, over, field):
    goal = make_roots_goal(cast.student)
    answer = send(cast, goal, sent(goal, **over))
    assert answer.status_code == 422
    assert field in answer.json()["errors"]
    assert PracticeEntry.objects.count() == Result.objects.count() == 0


# -- refusals ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("who", ["anonymous", "child", "other_student", "guardian", "teacher", "owner", "stranger"])
def test_nobody_else_drills(cast, who):
    goal = make_roots_goal(cast.student)
    assert cast.client(who).get(at(goal)).status_code == 404
    assert cast.client(who).post(at(goal), {"question": "find-6-7", "answer": "3"}).status_code == 404


def test_only_a_roots_goal_of_ones_own_is_drilled(cast):
    chord, others = make_goal(cast.student), make_roots_goal(cast.child)
    client = cast.client("student")
    for goal in (chord, others):
        assert client.get(at(goal, student=cast.student)).status_code == 404
    assert client.get(reverse("practice:s-drill", args=[cast.student.code, uuid.uuid4()])).status_code == 404


def test_methods(cast):
    goal = make_roots_goal(cast.student)
    assert cast.client("student").delete(at(goal)).status_code == 405


# -- all strings, after the goal's own -------------------------------------------------------------------------------


@pytest.mark.parametrize("asks", ASKS)
def test_all_strings_are_asked_whole_and_marked_as_each_strings_own(asks):
    goal = theory.Goal(kind="roots", string=6)
    drill = drill_of(goal, STEEL, asks, everywhere=True)
    assert len(drill.whole) == len(drill.by_id) == 6 * 12
    assert [one.string for one in drill.whole] == [string for string in range(6, 0, -1) for _ in range(12)]
    data = page_data(drill, "seconds", known=False)
    assert (data["counts"], data["measure"], data["known"]) == (False, "right", True)
    for string in range(1, 7):
        own = page_data(drill_of(theory.Goal(kind="roots", string=string), STEEL, asks), "seconds", known=True)
        assert own["counts"]
        for key, question in own["questions"].items():
            assert data["questions"][key] == question


@pytest.mark.django_db
def test_all_strings_are_offered_once_the_goals_own_was_measured(cast):
    goal = make_roots_goal(cast.student)
    client, url = cast.client("student"), reverse("practice:s-drill", args=[cast.student.code, goal.code])
    assert "strings=all" not in client.get(url).content.decode()
    make_result(goal, 50)
    assert "strings=all" in client.get(url).content.decode()
    page = client.get(url, {"strings": "all"}).content.decode()
    assert 'name="strings" value="all"' in page
    # without a script: a question of another string is marked, and the page stays with all strings
    answer = {"strings": "all", "asks": "find", "question": "find-5-2", "answer": "5", "history": ""}
    marked = client.post(url, answer).content.decode()
    assert "Right: D is at fret 5." in unescape(marked)
    assert 'name="strings" value="all"' in marked


def test_while_nothing_is_played_the_guitar_waits(cast):
    """What stops all playing stops the drill's way that presses strings; the drawn neck stays."""
    goal = make_roots_goal(cast.student)
    client = cast.client("student")
    assert "On the guitar" in client.get(at(goal)).content.decode()
    make_consent(cast.student)
    make_note(cast.student, 8)
    told = client.get(at(goal), {"asks": "guitar"}).content.decode()
    assert "On the guitar" not in told
    assert 'name="asks" value="find"' in told
