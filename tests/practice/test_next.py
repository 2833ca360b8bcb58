"""Declining a suggestion and taking that back, the song book beside the suggestions, the teacher's own order."""

import datetime as dt
import re
from html import unescape

import pytest
from django.urls import reverse

from practice.models import Declined, Song
from practice.suggest import STEPS
from practice.views.next import candidate_title
from students.models import Teacher
from studio import theory
from tests.factory import (
    NOW,
    TODAY,
    make_consent,
    make_declined,
    make_note,
    make_return,
    make_song,
    make_student,
)

HTMX = {"HX-Request": "true"}
USUAL = list(STEPS)


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def at(student, name="next-chords", *args):
    return reverse(f"practice:{name}", args=[student.code, *args])


def words(response):
    assert response.status_code == 200, response
    text = response.content.decode()
    main = re.search(r"<main.*?</main>", text, flags=re.S)
    return unescape(" ".join(re.sub(r"<[^>]*>", " ", main[0] if main else text).split()))


def suggested(cast):
    text = cast.client("teacher").get(at(cast.student)).content.decode()
    return re.findall(r'name="candidate" value="([^"]*)"', text)


def decline(cast, candidate, *, who="teacher", follow=False, headers=None, **data):
    sent = {"candidate": candidate, **data}
    return cast.client(who).post(at(cast.student, "next-decline"), sent, follow=follow, headers=headers)


# -- declining ----------------------------------------------------------------------------------------------------


def test_one_tap_declines_for_four_weeks_and_says_until_when(cast):
    first, *others = suggested(cast)
    page = words(decline(cast, first, reason="later", follow=True))
    assert "Declined until 10 December: Em, open." in page
    row = Declined.objects.get()
    assert (row.student, row.candidate, row.reason) == (cast.student, first, "later")
    assert (row.day, row.by) == (TODAY, cast.teacher)
    assert first not in suggested(cast)
    assert others[0] in suggested(cast)
    assert "Declined until 10 December: Em, open , later" in words(cast.client("teacher").get(at(cast.student)))


def test_beside_the_students_page_the_part_is_answered(cast):
    first = suggested(cast)[0]
    part = decline(cast, first, reason="hard", headers=HTMX)
    text = part.content.decode()
    assert "<html" not in text
    assert text.count('id="next-chords"') == 1
    assert "too hard now" in words(part)
    row = Declined.objects.get()
    part = cast.client("teacher").post(at(cast.student, "next-take-back", row.code), headers=HTMX)
    assert "<html" not in part.content.decode()
    assert first in suggested(cast)


def test_an_own_reason_is_kept_in_the_teachers_words(cast):
    first = suggested(cast)[0]
    decline(cast, first, reason="other", words="After the <b>holidays</b>")
    assert Declined.objects.get().words == "After the <b>holidays</b>"
    assert "“After the <b>holidays</b>”" in unescape(cast.client("teacher").get(at(cast.student)).content.decode())
    assert "<b>holidays" not in cast.client("teacher").get(at(cast.student)).content.decode()


def test_an_own_reason_wants_words_and_what_is_wrong_stands_beside_it(cast):
    first = suggested(cast)[0]
    page = decline(cast, first, reason="other")
    assert "Write the reason, or choose one of the others." in words(page)
    assert re.search(r'<details class="inline" open>', page.content.decode())
    assert not Declined.objects.exists()


@pytest.mark.parametrize("candidate", ["", "nothing", "E-minor@H", "roots@9", "roots@", "E-minor@B" + "x" * 80, "@"])
def test_what_names_no_suggestion_is_refused_in_words(cast, candidate):
    page = decline(cast, candidate, reason="later")
    assert page.status_code == 200
    assert not Declined.objects.exists()
    assert page.context["wrong"].errors["candidate"]


def test_a_reason_that_is_none_is_refused(cast):
    first = suggested(cast)[0]
    assert decline(cast, first, reason="because").status_code == 200
    assert decline(cast, first).status_code == 200
    assert not Declined.objects.exists()


def test_sent_twice_it_is_stored_once(cast):
    first = suggested(cast)[0]
    for _ in range(2):
        decline(cast, first, reason="later")
    assert Declined.objects.count() == 1


def test_taking_it_back_lets_it_come_again(cast):
    first = suggested(cast)[0]
    decline(cast, first, reason="known")
    row = Declined.objects.get()
    page = cast.client("teacher").post(at(cast.student, "next-take-back", row.code), follow=True)
    assert "Em, open may be suggested again." in words(page)
    assert suggested(cast)[0] == first
    assert cast.client("teacher").post(at(cast.student, "next-take-back", row.code)).status_code == 404


def test_after_four_weeks_it_is_gone_from_the_page(cast):
    make_declined(cast.student, candidate="open-Em@E", day=TODAY - dt.timedelta(days=28))
    assert suggested(cast)[0] == "open-Em@E"
    assert "Declined until" not in words(cast.client("teacher").get(at(cast.student)))
    make_declined(cast.student, candidate="open-Em@E", day=TODAY - dt.timedelta(days=27))
    assert "open-Em@E" not in suggested(cast)
    assert "Declined until 13 November" in words(cast.client("teacher").get(at(cast.student)))


def test_only_who_may_see_the_student_declines(cast):
    refused = {"other_teacher": 404, "stranger": 404, "guardian": 404, "student": 404, "anonymous": 302}
    for who, status in refused.items():
        assert decline(cast, "open-Em@E", who=who, reason="later").status_code == status
    row = make_declined(cast.other_student)
    # another student's refusal under one's own address
    assert cast.client("teacher").post(at(cast.student, "next-take-back", row.code)).status_code == 404
    assert decline(cast, "open-Em@E", who="owner", reason="later").status_code == 302
    assert Declined.objects.filter(student=cast.student).count() == 1


# candidate, its title
@pytest.mark.parametrize(
    ("candidate", "title"),
    [
        ("E-minor@B", "Bm, E-shape at 7"),
        ("open-G@G", "G, open"),
        ("roots@6", "Roots on the 6th string: all twelve"),
        ("roots@x", "roots@x"),
        ("gone-shape@B", "gone-shape@B"),
        ("", ""),
    ],
)
def test_a_stored_refusal_has_a_title_whatever_became_of_the_catalogue(candidate, title):
    shown = candidate_title(candidate, theory.INSTRUMENTS["steel-string"])
    assert shown == title or (candidate == "roots@6" and "6th string" in shown)


# -- the song book and the hand -----------------------------------------------------------------------------------


def test_the_teachers_songs_weigh_in(cast):
    make_song(cast.teacher, title="Open one", chords="Dm")
    make_song(cast.other_teacher, title="Not this one", chords="Am")
    page = words(cast.client("teacher").get(at(cast.student)))
    assert "It makes 1 song of the song book ready: “Open one”." in page
    assert "what it opens in the song book" in page
    assert "Not this one" not in page
    # the owner sees what the student's own teacher would
    assert "“Open one”" in words(cast.client("owner").get(at(cast.student)))


@pytest.mark.parametrize(
    ("barre", "said"), [(False, "Barre work is paused for the hand"), (True, "A stepwise return is open")]
)
def test_a_stepwise_return_is_said_behind_one_tap(cast, barre, said):
    make_consent(cast.student)
    make_note(cast.student, 2, day=TODAY - dt.timedelta(days=40), closed_at=NOW)
    make_return(cast.student, barre=barre)
    text = cast.client("teacher").get(at(cast.student)).content.decode()
    assert f'<details><summary>About the hand</summary><p class="note">{said}' in text


def test_queries_do_not_grow_with_songs_and_refusals(cast, count_queries):
    make_song(cast.teacher)
    few = count_queries(cast.client("teacher"), at(cast.student))
    for n in range(30):
        make_song(cast.teacher, chords="G Bm F#m")
        make_declined(cast.student, candidate=f"E-minor@{'ABCDEFG'[n % 7]}")
    # session, user, teacher, student, facts (8), songs, refusals
    assert count_queries(cast.client("teacher"), at(cast.student)) == few <= 14


# -- the teacher's own order --------------------------------------------------------------------------------------


ORDER = reverse("practice:teaching-order")


def order_of(teacher):
    return Teacher.objects.get(pk=teacher.pk).teaching_order


def places(**over):
    return {step: str(place) for place, step in enumerate(USUAL, start=1)} | over


def test_the_usual_order_stands_until_one_sets_another(cast):
    assert "the usual one" in words(cast.client("teacher").get(ORDER))
    page = cast.client("teacher").post(ORDER, places(), follow=True)
    assert "Stored: suggestions follow the usual order." in words(page)
    assert order_of(cast.teacher) == []


def test_numbers_put_the_steps_in_order(cast):
    cast.client("teacher").post(ORDER, places(**{"minors": "1", "no-index": "6"}))
    own = order_of(cast.teacher)
    # a number typed is the place got, whatever stood there
    assert own == ["minors", "open", "small-barre", "e-major", "a-major", "no-index", "sevenths", "later"]
    shown = words(cast.client("teacher").get(ORDER))
    assert "your own" in shown
    assert order_of(cast.other_teacher) == []


@pytest.mark.parametrize(
    ("button", "step", "place"), [("up", "minors", 3), ("down", "minors", 5), ("up", "open", 0), ("down", "later", 7)]
)
def test_buttons_move_one_step(cast, button, step, place):
    cast.client("teacher").post(ORDER, places() | {button: step})
    assert (order_of(cast.teacher) or USUAL).index(step) == place


def test_a_button_keeps_the_numbers_that_were_typed(cast):
    cast.client("teacher").post(ORDER, places(later="1") | {"up": "minors"})
    own = order_of(cast.teacher)
    assert own.index("later") == 0
    assert own.index("minors") == own.index("e-major") - 1


def test_back_to_the_usual_order(cast):
    Teacher.objects.filter(pk=cast.teacher.pk).update(teaching_order=["minors"])
    cast.client("teacher").post(ORDER, {"usual": "1"})
    assert order_of(cast.teacher) == []


@pytest.mark.parametrize("value", ["", "x", "0", "100", "1.5"])
def test_a_number_that_is_none_is_told_beside_it_and_stays(cast, value):
    page = cast.client("teacher").post(ORDER, places(minors=value))
    assert page.status_code == 200
    assert list(page.context["form"].errors) == ["minors"]
    assert page.context["form"]["minors"].value() == value
    assert order_of(cast.teacher) == []


def test_what_the_database_holds_of_other_versions_is_passed_over(cast):
    Teacher.objects.filter(pk=cast.teacher.pk).update(teaching_order=["gone", 3, None, "minors"])
    assert cast.client("teacher").get(ORDER).status_code == 200
    assert "your own teaching order" in words(cast.client("teacher").get(at(cast.student)))


def test_the_order_changes_what_is_suggested(cast):
    usual = suggested(cast)
    order = ["later", "sevenths", "a-major", "minors", "e-major", "small-barre", "no-index", "open"]
    Teacher.objects.filter(pk=cast.teacher.pk).update(teaching_order=order)
    assert suggested(cast) != usual
    page = words(cast.client("teacher").get(at(cast.student)))
    assert "of your own teaching order." in page
    assert "By the teacher’s own teaching order." in words(cast.client("owner").get(at(cast.student)))
    # nobody else's students
    other = make_student(teacher=cast.other_teacher)
    assert "By the usual teaching order." in words(cast.client("other_teacher").get(at(other)))
    assert Song.objects.count() == 0
