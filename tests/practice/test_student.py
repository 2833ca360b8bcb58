"""One student's page: the sentence at its head, the goals with their taps, the week, the lessons."""

import datetime as dt
import html
import re
import uuid

import pytest
from django.urls import reverse

from practice.models import TellTeacher
from practice.progress import state
from practice.queries import student_facts
from practice.standing import standing
from practice.standing_words import standing_text
from students.models import Student
from tests import factory
from tests.factory import NOW, TODAY


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def url_of(student, name="student"):
    return reverse(f"practice:{name}", args=[student.code])


def page_of(cast, name="student"):
    response = cast.client("teacher").get(url_of(cast.student, name))
    assert response.status_code == 200
    return response.content.decode()


def text_of(cast, name="student"):
    return " ".join(re.sub(r"<[^>]+>", " ", html.unescape(page_of(cast, name))).split())


def sentence(cast):
    return html.unescape(re.search(r'<p class="lead">([^<]*)</p>', page_of(cast)).group(1))


def eyebrow(cast):
    found = re.search(r'<p class="eyebrow">(.*?)</p>', page_of(cast)).group(1)
    return re.sub(r"<[^>]+>", "", html.unescape(found)).strip()


def secure(goal, on=TODAY - dt.timedelta(days=2)):
    lesson = factory.make_lesson(goal.student, day=on)
    factory.make_result(goal, 6, day=on - dt.timedelta(days=1))
    factory.make_result(goal, 6, lesson=lesson, day=on)


# -- the sentence -------------------------------------------------------------------------------------------------


def test_the_sentence_follows_the_rows(cast):
    assert sentence(cast) == "Nothing is set for Robin yet. The first goal gives the week its work."
    goal = factory.make_goal(cast.student)
    assert sentence(cast) == "Nothing has been logged so far."
    factory.make_entry(cast.student, day=TODAY - dt.timedelta(days=9))
    assert sentence(cast) == "Nothing logged for 9 days."
    factory.make_entry(cast.student, day=TODAY - dt.timedelta(days=1))
    assert sentence(cast) == "The goal is set and not measured yet."
    factory.make_result(goal, 4, day=TODAY - dt.timedelta(days=1))
    assert sentence(cast) == "Nearest to its target is Bm, E-shape at 7 with 4 of 6 strings, target 6."
    other = factory.make_goal(cast.student, terms=factory.chord_terms("E-minor", "A"))
    secure(other)
    assert (
        sentence(cast) == "Am, E-shape at 5 has been secure since 10 November; Bm, E-shape at 7 is nearest to follow."
    )
    goal.due = TODAY - dt.timedelta(days=1)
    goal.save()
    assert sentence(cast) == "Bm, E-shape at 7 was due on 11 November."


def test_a_review_that_fell_due_is_said(cast):
    secure(factory.make_goal(cast.student, due=TODAY - dt.timedelta(days=3)), on=TODAY - dt.timedelta(days=30))
    factory.make_entry(cast.student)
    # 28 days after 13 October, the rule of practice.progress
    assert sentence(cast) == "Bm, E-shape at 7 waits for its review since 10 November."


def test_all_secure_is_said(cast):
    secure(factory.make_goal(cast.student, due=TODAY - dt.timedelta(days=3)))
    assert sentence(cast) == "The goal is secure: time for the next step."


def test_every_sentence_has_its_words(cast):
    """Whatever the rows are, the code of the sentence is one that the words know."""
    student = cast.student
    for day in range(0, 40, 7):
        for value in (None, 3, 6):
            if value is not None:
                factory.make_result(factory.make_goal(student), value, day=TODAY - dt.timedelta(days=day))
            facts = student_facts(student, TODAY)
            states = {goal.code: state(goal, TODAY) for goal in facts.goals}
            assert standing_text(standing(facts, states, TODAY))


# -- the page -----------------------------------------------------------------------------------------------------


def test_each_goal_stands_with_diagram_state_try_target_and_due(cast):
    goal = factory.make_goal(cast.student, words="Thumb low.")
    factory.make_result(goal, 4, day=TODAY - dt.timedelta(days=1))
    page, text = page_of(cast), text_of(cast)
    assert page.count("<svg") == 1
    assert "Bm, E-shape at 7" in text
    assert "Thumb low." in text
    assert "developing" in text
    assert "4 of 6" in text
    assert "6 of 6" in text
    assert "19 Nov" in text
    for words in (
        "Keep, due 19 Nov",
        "Target at its most",
        "Next root: Cm at fret 8",
        "Put it in a change",
        "Set aside",
    ):
        assert words in text
    assert f'action="/students/{cast.student.code}/goals/{goal.code}/"' in page


def test_what_is_secure_comes_after_what_asks_for_something(cast):
    secure(factory.make_goal(cast.student, due=TODAY - dt.timedelta(days=30)))
    waiting = factory.make_goal(cast.student, terms=factory.chord_terms("E-minor", "A"), due=TODAY)
    secure(waiting, on=TODAY - dt.timedelta(days=40))
    factory.make_goal(cast.student, terms=factory.chord_terms("E-minor", "C"), due=TODAY + dt.timedelta(days=7))
    rows = re.findall(r'<div class="goal now">.*?<div>([^<]+)</div>', page_of(cast))
    assert rows == ["Am, E-shape at 5", "Cm, E-shape at 8", "Bm, E-shape at 7"]


def test_a_secure_goal_shows_its_review_and_no_due_day(cast):
    secure(factory.make_goal(cast.student))
    text = text_of(cast)
    # review 28 days after the target was last met, on 10 November: the rule of practice.progress
    assert "● secure" in text
    assert "review 8 Dec" in text


def test_a_goal_that_the_instrument_lost_says_why(cast):
    factory.make_goal(cast.student)
    cast.student.tuning = "D2 A2 D3 G3 B3 E4"
    cast.student.save()
    assert "in the tuning" in text_of(cast)  # the 6th string lowered breaks E-shapes: common practice


def test_a_left_handed_student_sees_mirrored_diagrams(cast):
    factory.make_goal(cast.student)
    right = re.search(r"<svg.*?</svg>", page_of(cast)).group()
    cast.student.plays = "left"
    cast.student.save()
    left = re.search(r"<svg.*?</svg>", page_of(cast)).group()
    assert left != right
    assert "left-handed" in text_of(cast)


def test_goals_set_aside_wait_behind_a_tap(cast):
    factory.make_goal(cast.student, set_aside_at=NOW)
    text = text_of(cast)
    assert "1 goal set aside" in text
    assert "Take up again" in text


def test_the_week_shows_entries_with_their_goals_and_notes(cast):
    goal = factory.make_goal(cast.student)
    factory.make_entry(
        cast.student, (goal, 900), day=TODAY - dt.timedelta(days=1), note="The <b>thumb</b> slips.", by="parent"
    )
    factory.make_entry(cast.student, day=TODAY - dt.timedelta(days=10), note="An old note.")
    page, text = page_of(cast), text_of(cast)
    assert "15 of 100 min" in text
    assert "1 of 5 days" in text
    assert "Bm, E-shape at 7: 15 min" in text
    assert "logged by a parent" in text
    assert "The &lt;b&gt;thumb&lt;/b&gt; slips." in page
    assert "An old note." not in text


def test_lessons_are_listed_with_the_teachers_words(cast):
    factory.make_lesson(cast.student, words="Slower, with the metronome on two and four.")
    text = text_of(cast)
    assert "Slower, with the metronome" in text
    assert "held" in text


def test_hand_notes_are_one_neutral_line(cast):
    factory.make_consent(cast.student)
    assert "A hand note to look at." not in text_of(cast)
    factory.make_note(cast.student, 8, place="thumb", sensation="numb")
    text = text_of(cast)
    assert "A hand note to look at." in text
    assert "thumb" not in text
    assert "numbness" not in text
    assert "8 of 10" not in text
    TellTeacher.objects.create(student=cast.child, by="student", at=NOW)
    child = html.unescape(cast.client("teacher").get(url_of(cast.child)).content.decode())
    # no consent, no note: only a wish for a word
    assert "A hand note to look at." not in child
    assert "Wants to talk to you." in child


def test_whoever_is_paused_or_has_left_has_no_next_lesson(cast):
    assert "lesson" in eyebrow(cast)
    cast.student.status = Student.Status.PAUSED
    cast.student.save()
    assert "lesson" not in eyebrow(cast)
    assert eyebrow(cast).endswith("paused")
    cast.student.set_status(Student.Status.ARCHIVED, TODAY)
    assert eyebrow(cast).endswith("archived since 12 Nov 2026")


def test_the_page_leads_to_all_that_belongs_to_the_student(cast):
    page = page_of(cast)
    for name in ("goal-set", "lesson", "log", "entries", "hand-notes", "charts", "next-chords"):
        assert url_of(cast.student, name) in page, name
    for name in ("people", "student-edit"):
        assert reverse(f"students:{name}", args=[cast.student.code]) in page, name


def test_one_main_action(cast):
    assert len(re.findall(r'class="(?:button )?main\b', page_of(cast))) == 1


# -- what could come next -----------------------------------------------------------------------------------------


def test_next_chords_are_a_fragment_or_a_whole_page(cast):
    client, url = cast.client("teacher"), url_of(cast.student, "next-chords")
    whole = client.get(url).content.decode()
    part = client.get(url, headers={"HX-Request": "true"}).content.decode()
    assert "<html" in whole
    assert "<html" not in part
    assert part.count("<svg") == whole.count("<svg") == 3


def one_taps(cast):
    """What each button beside a suggestion sends, by field."""
    page = cast.client("teacher").get(url_of(cast.student, "next-chords")).content.decode()
    forms = re.findall(rf'<form[^>]*action="{url_of(cast.student, "goal-set")}".*?</form>', page, re.S)
    found = []
    for form in forms:
        assert "Set as a goal, due 19 Nov" in form
        sent = {}
        for name, value in re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form):
            sent.setdefault(name, []).append(html.unescape(value))
        found.append(sent)
    return found


def test_a_suggestion_is_set_in_one_tap(cast):
    """What the button sends is all that setting asks for, the cautions that stand beside it included."""
    secure(factory.make_goal(cast.student, terms=factory.chord_terms("E-major", "A")))
    client = cast.client("teacher")
    page = page_of(cast, "next-chords")
    titles = [html.unescape(title) for title in re.findall(r"<h2>([^<]+)</h2>", page)][:3]
    assert len(titles) == 3
    for sent, title in zip(one_taps(cast), titles, strict=True):
        answer = client.post(url_of(cast.student, "goal-set"), sent)
        assert (answer.status_code, answer.headers["Location"]) == (302, cast.student.get_absolute_url()), title
        goal = cast.student.goals.latest("pk")
        assert (goal.title, goal.due, goal.target) == (title, TODAY + dt.timedelta(days=7), float(sent["target"][0]))
        # sent twice it is not set twice: the form asks, since it is set already
        assert client.post(url_of(cast.student, "goal-set"), sent).status_code == 200
        assert cast.student.goals.latest("pk") == goal


def test_roots_are_set_in_one_tap_while_barres_rest(cast):
    factory.make_consent(cast.student)
    factory.make_note(cast.student, 5, settles="day")
    factory.make_goal(cast.student)
    roots, *_others = one_taps(cast)
    assert cast.client("teacher").post(url_of(cast.student, "goal-set"), roots).status_code == 302
    assert cast.student.goals.latest("pk").kind == "roots"


def test_a_suggestion_can_be_changed_before_it_is_set(cast):
    client = cast.client("teacher")
    page = client.get(url_of(cast.student, "next-chords")).content.decode()
    links = [html.unescape(link) for link in re.findall(r'href="([^"]*goals/set/\?[^"]*)"', page)]
    assert len(links) == 3
    for link in links:
        response = client.get(link)
        assert response.status_code == 200
        assert "<svg" in response.content.decode()


def test_a_known_chord_changes_what_comes_next(cast):
    before = text_of(cast, "next-chords")
    secure(factory.make_goal(cast.student, terms=factory.chord_terms("E-major", "A")))
    assert text_of(cast, "next-chords") != before


def test_a_silence_longer_than_what_is_read_is_counted(cast):
    Student.objects.filter(pk=cast.student.pk).update(joined=TODAY - dt.timedelta(days=400))
    factory.make_goal(cast.student)
    factory.make_entry(cast.student, day=TODAY - dt.timedelta(days=200))
    assert sentence(cast) == "Nothing logged for 200 days."


# -- cost and refusals --------------------------------------------------------------------------------------------


def test_the_page_asks_a_constant_number_of_questions(cast, count_queries):
    client, url = cast.client("teacher"), url_of(cast.student)
    goal = factory.make_goal(cast.student)
    factory.make_result(goal, 5)
    few = count_queries(client, url)
    for number in range(8):
        goal = factory.make_goal(cast.student, terms=factory.chord_terms("E-minor", "CDEFGABC"[number]))
        factory.make_result(goal, 5)
        factory.make_entry(cast.student, (goal, 300), note="x")
    # session, user, teacher; student; goals, results, segments, entries, notes, consent; this week's words;
    # "tell my teacher"; the last entry's day; lessons
    assert count_queries(client, url) == few <= 15


@pytest.mark.parametrize("name", ["student", "next-chords"])
def test_refusals(cast, name):
    url = url_of(cast.student, name)
    expected = {"owner": 200, "other_teacher": 404, "stranger": 404, "anonymous": 302}
    assert {who: cast.client(who).get(url).status_code for who in expected} == expected
    assert cast.client("teacher").get(reverse(f"practice:{name}", args=[uuid.uuid4()])).status_code == 404
    assert cast.client("teacher").post(url).status_code == 405


def test_an_archived_student_is_still_found_by_the_teacher(cast):
    cast.student.status = "archived"
    cast.student.save()
    assert "archived" in text_of(cast)


def test_what_takes_long_comes_after_the_page(cast, monkeypatch):
    """Suggestions, songs and charts are asked for by the page that stands already, and neither is computed for it."""

    def refuse(*_args, **_over):
        raise AssertionError("computed on the page's first byte")

    for name in ("practice.suggest.next_chords", "practice.suggest.in_hand", "practice.chart_draw.raw_svg"):
        monkeypatch.setattr(name, refuse)
    factory.make_result(factory.make_goal(cast.student), 4)
    page = page_of(cast)
    for name in ("next-chords", "student-songs", "charts"):
        assert f'hx-get="{url_of(cast.student, name)}" hx-trigger="load"' in page
        assert f'href="{url_of(cast.student, name)}"' in page  # and without a script one tap away
