"""The overview page: whose students stand on it, what each line leads to, how many queries it costs."""

import datetime as dt
import html
import re

import pytest
from django.urls import reverse

from students.models import Student
from tests import factory
from tests.factory import NOW, TODAY

URL = "/overview/"


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def day_in(days):
    return TODAY + dt.timedelta(days=days)


def read(cast, who):
    response = cast.client(who).get(URL)
    assert response.status_code == 200
    return response.content.decode()


def text_of(page):
    return " ".join(re.sub(r"<[^>]+>", " ", html.unescape(page)).split())


def make_stuck(student):
    """Eight weeks of the same two values."""
    goal = factory.make_goal(student, day=day_in(-60), start_value=0)
    for ago in range(56, 0, -3):
        factory.make_result(goal, 3 + ago % 2, day=day_in(-ago))
    return goal


def test_a_teacher_sees_their_own_and_the_owner_everybody_by_teacher(cast):
    teacher, owner = read(cast, "teacher"), read(cast, "owner")
    assert "Robin Example" in teacher
    assert "Kit Child" in teacher
    assert cast.other_student.name not in teacher
    assert cast.far_student.name not in owner
    assert "With Ada Teacher" not in teacher
    ada, bo = owner.index("With Ada Teacher"), owner.index("With Bo Teacher")
    assert ada < owner.index("Kit Child") < bo < owner.index(cast.other_student.name)


def test_paused_and_archived_students_are_left_out(cast):
    Student.objects.filter(pk=cast.student.pk).update(status="paused")
    Student.objects.filter(pk=cast.child.pk).update(status="archived")
    page = read(cast, "teacher")
    assert "Robin Example" not in page
    assert "Kit Child" not in page
    assert "Nobody is on the roster yet." in page


def test_every_line_leads_to_the_student_and_shows_its_numbers(cast):
    make_stuck(cast.student)
    page = read(cast, "teacher")
    said = text_of(page)
    assert "1 goal is stuck" in said
    part = page[page.index("<h3>Stuck") :]
    assert reverse("practice:student", args=[cast.student.code]) in part[: part.index("</ul>")]
    # the tries that it rests on, with their days, and the target
    assert re.search(r"the numbers .*7 Nov: 4 · 10 Nov: 3; target 6", said)


def test_who_has_not_logged_and_who_practises_too_much_is_named(cast):
    factory.make_entry(cast.student, day=day_in(-12))
    for ago in (4, 5, 6):
        factory.make_entry(cast.child, day=day_in(-ago), seconds=100 * 60)
    factory.make_performance(cast.child, day=day_in(12))
    said = text_of(read(cast, "teacher"))
    assert "1 student logs nothing; 1 practises too much." in said
    assert "Robin Example No entry for 12 days." in said
    assert "Slow down before Summer concert on 24 November: 300 minutes last week, 100 planned." in said
    assert "Summer concert on 24 November, in 12 days." in said
    assert "Looked for and not found: stuck; slipped back; a review waits." in said


def test_who_has_been_silent_for_longer_than_what_is_read_is_not_said_to_have_never_logged(cast):
    factory.make_entry(cast.student, day=day_in(-200))
    Student.objects.filter(pk=cast.student.pk).update(joined=day_in(-400))
    said = text_of(read(cast, "teacher"))
    assert "Robin Example No entry for 200 days." in said
    assert "Kit Child No entry yet, with the studio since 14 May." in said


def test_a_calm_roster_says_so_and_few_students_get_no_weeks(cast):
    for student in (cast.student, cast.child):
        factory.make_entry(student, day=day_in(-1))
    factory.make_goal(cast.student)
    said = text_of(read(cast, "teacher"))
    assert "2 students. Nothing asks for a look." in said
    assert "Too few to say, with fewer than 6 students each: E-shape minor (1)." in said
    assert "Half had it secure within" not in said


def test_enough_students_get_weeks_with_their_interval(cast):
    for number in range(7):
        student = factory.make_student(teacher=cast.teacher, name=f"Learner {number}", joined=day_in(-300))
        goal = factory.make_goal(student, day=day_in(-200))
        factory.make_result(goal, 6, day=day_in(-180 + 7 * number))
        factory.make_result(
            goal, 6, day=day_in(-179 + 7 * number), lesson=factory.make_lesson(student, day=day_in(-179 + 7 * number))
        )
    page = text_of(read(cast, "teacher"))
    assert re.search(r"E-shape minor 6 weeks , between 3 and 9 7 7 the numbers Learner 0: 3 weeks · ", page)


def test_a_wide_rosters_hand_values_are_read_under_consent_alone(cast):
    for ago in range(5, 40):
        factory.make_entry(cast.child, day=day_in(-ago), seconds=1500, tiring=1)
    for ago in (4, 5, 6):
        factory.make_entry(cast.child, day=day_in(-ago), seconds=1500, tiring=10)
    assert "A bigger jump than usual" not in read(cast, "teacher")
    factory.make_consent(cast.child)
    assert "A bigger jump than usual" in read(cast, "teacher")


def test_neither_student_nor_family_ever_sees_it(cast):
    for who in ("student", "child", "guardian", "other_guardian"):
        assert cast.client(who).get(URL).status_code == 404


# Session and user (2), the teacher's viewer (1), the students with their consent (1), the seven of facts_of.
def test_sixty_students_cost_as_many_queries_as_one(cast, count_queries):
    def more(n):
        for number in range(n):
            student = factory.make_student(teacher=cast.teacher, name=f"Learner {number}")
            factory.make_consent(student)
            goal = factory.make_goal(student)
            factory.make_result(goal, 4, day=day_in(-3))
            factory.make_note(student)
            factory.make_performance(student, goal)

    more(1)
    first = count_queries(cast.client("teacher"), URL)
    more(60)
    assert count_queries(cast.client("teacher"), URL) == first <= 11
