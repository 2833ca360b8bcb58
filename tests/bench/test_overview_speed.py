"""Speed of the overview: a roster of sixty with half a year each, read and composed. Nothing is asserted about time:
read the table (`-m bench -s`).

The bare rows are what the page cannot do without: the same tables fetched by the database driver alone, nothing made
of them. Both ways take turns, so that a busy machine slows both.
"""

import datetime as dt
import statistics
from time import perf_counter

import pytest
from django.db import connection

from practice.example import SEED, draw, store
from practice.models import PracticeEntry, Result, Segment
from practice.queries import facts_of
from practice.studio_view import Member, overview
from students.models import Student, Studio, Teacher

pytestmark = [pytest.mark.bench, pytest.mark.django_db]

TODAY = dt.date(2026, 11, 24)
SPAN = dt.timedelta(weeks=26)
STUDENTS, ROUNDS = 60, 7
BARE = (
    "SELECT * FROM practice_practiceentry",
    "SELECT * FROM practice_segment",
    "SELECT * FROM practice_result",
    "SELECT * FROM practice_goal",
    "SELECT * FROM practice_handnote",
)


@pytest.fixture
def roster():
    """Three draws of the example studio under one teacher."""
    for seed in range(SEED, SEED + 3):
        with pytest.MonkeyPatch.context() as patch:
            # e-mail addresses are unique over all studios
            name = f"{seed}."
            patch.setattr("students.models.UserManager.normalise", staticmethod(lambda mail, name=name: name + mail))
            store(draw(seed, TODAY))
    studio = Studio.objects.order_by("pk").first()
    teacher = Teacher.objects.filter(studio=studio).first()
    Student.objects.update(studio=studio, teacher=teacher, status="active")
    for student in Student.objects.order_by("-pk")[: Student.objects.count() - STUDENTS]:
        student.delete()


def read():
    students = list(Student.objects.active().select_related("studio", "teacher").with_hand_consent(TODAY))
    facts = facts_of(students, TODAY, since=TODAY - SPAN)
    return [Member(str(one.code), one.teacher.name, facts[one.pk]) for one in students]


def bare():
    with connection.cursor() as cursor:
        for query in BARE:
            cursor.execute(query)
            cursor.fetchall()


def timed(way):
    begun = perf_counter()
    found = way()
    return perf_counter() - begun, found


def test_a_roster_of_sixty(roster):
    times: dict[str, list[float]] = {"read": [], "compose": [], "bare": []}
    overview(read(), TODAY)  # imports and first compilations are not what is measured
    for _ in range(ROUNDS):
        spent, members = timed(read)
        times["read"].append(spent)
        times["compose"].append(timed(lambda members=members: overview(members, TODAY))[0])
        times["bare"].append(timed(bare)[0])
    assert len(members) == STUDENTS
    counts = {model.__name__: model.objects.count() for model in (PracticeEntry, Segment, Result)}
    print(f"\n{STUDENTS} students, {counts}")
    for name, spent in times.items():
        ratio = statistics.median(one / two for one, two in zip(spent, times["bare"], strict=True))
        print(f"{name:8} {1000 * statistics.median(spent):7.0f} ms   {ratio:5.1f} times the bare rows")
