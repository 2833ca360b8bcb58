"""Rows for tests: `make_x(**over)` with good defaults, so that a test names only what matters to it.

Instants are given, never read from the clock: NOW is a Thursday evening in winter, London time.
"""

import datetime as dt
import itertools

from practice.models import (
    Declined,
    Goal,
    HandNote,
    HandReturn,
    Performance,
    PracticeEntry,
    Result,
    Segment,
    Song,
)
from students.models import Consent, Guardian, Guardianship, Lesson, Student, Studio, Teacher, User
from studio import theory

NOW = dt.datetime(2026, 11, 12, 18, 0, tzinfo=dt.UTC)
TODAY = NOW.date()
PASSWORD = "a long enough pass phrase"

_count = itertools.count(1)


def make_studio(**over) -> Studio:
    return Studio.objects.create(**{"name": "Test Lane Studio", "zone": "Europe/London", **over})


def make_user(**over) -> User:
    values = {"email": f"person{next(_count)}@studio.example", "password": PASSWORD, **over}
    return User.objects.create_user(**values)


def make_teacher(**over) -> Teacher:
    values = {"name": "Ada Teacher", "is_owner": False, **over}
    if "studio" not in values:
        values["studio"] = make_studio()
    if "user" not in values:
        values["user"] = make_user()
    return Teacher.objects.create(**values)


def make_student(**over) -> Student:
    """An adult on steel-string, Thursdays at 15:30, who joined half a year before TODAY."""
    values = {
        "name": "Robin Example",
        "birth_year": 1990,
        "joined": TODAY - dt.timedelta(days=182),
        "lesson_weekday": 3,
        "lesson_time": dt.time(15, 30),
        **over,
    }
    if "teacher" not in values:
        values["teacher"] = make_teacher()
    values.setdefault("studio", values["teacher"].studio)
    return Student.objects.create(**values)


def make_guardian(*children: Student, **over) -> Guardian:
    values = {"name": "Gil Guardian", "email": f"guardian{next(_count)}@family.example", **over}
    if "studio" not in values:
        values["studio"] = children[0].studio
    guardian = Guardian.objects.create(**values)
    Guardianship.objects.bulk_create(Guardianship(guardian=guardian, student=child) for child in children)
    return guardian


def make_consent(student: Student, **over) -> Consent:
    """A standing consent of the right person: a guardian's for a minor, an adult student's own."""
    minor = student.is_minor(TODAY)
    values = {
        "student": student,
        "given_by": "guardian" if minor else "student",
        "name": "Gil Guardian" if minor else student.name,
        "given_at": NOW - dt.timedelta(days=100),
        "way": "link",
        **over,
    }
    return Consent.objects.create(**values)


def chord_terms(shape: str = "E-minor", root: str = "B", **over) -> dict:
    return theory.Goal(kind="chord", chords=(theory.ChordTerm(shape, root),), **over).to_terms()


def make_goal(student: Student, **over) -> Goal:
    """B minor in the E-shape at fret 7, six clean strings, due in a week."""
    day = over.get("day", TODAY - dt.timedelta(days=30))
    values = {
        "student": student,
        "kind": "chord",
        "measure": "clean",
        "target": 6,
        "due": TODAY + dt.timedelta(days=7),
        "day": day,
        "created_at": dt.datetime.combine(day, dt.time(16), tzinfo=dt.UTC),
        "created_by": student.teacher,
        **over,
    }
    values.setdefault("terms", chord_terms())
    return Goal.objects.create(**values)


def make_roots_goal(student: Student, string: int = 6, notes: tuple[str, ...] = (), **over) -> Goal:
    """All twelve roots along the 6th string in 40 seconds."""
    terms = theory.Goal(kind="roots", string=string, notes=notes).to_terms()
    return make_goal(student, **{"kind": "roots", "measure": "seconds", "target": 40, "terms": terms, **over})


def make_entry(student: Student, *parts: tuple[Goal, int], **over) -> PracticeEntry:
    """An entry of TODAY, 20 minutes; parts: (goal, seconds) of its segments."""
    day = over.get("day", TODAY)
    values = {
        "student": student,
        "begun": dt.datetime.combine(day, dt.time(17), tzinfo=dt.UTC),
        "seconds": sum(seconds for _, seconds in parts) or 1200,
        "day": day,
        "by": "student",
        **over,
    }
    entry = PracticeEntry.objects.create(**values)
    Segment.objects.bulk_create(Segment(entry=entry, goal=goal, seconds=seconds) for goal, seconds in parts)
    return entry


def make_lesson(student: Student, **over) -> Lesson:
    return Lesson.objects.create(**{"student": student, "day": TODAY, "time": dt.time(15, 30), **over})


def make_result(goal: Goal, value: float, **over) -> Result:
    """A self-reported result with an entry of its own, or a check when `lesson` is given."""
    day = over.get("day", TODAY)
    values = {
        "student": goal.student,
        "goal": goal,
        "day": day,
        "at": dt.datetime.combine(day, dt.time(17, 30), tzinfo=dt.UTC),
        "measure": goal.measure,
        "value": value,
        **over,
    }
    if "lesson" not in values and "entry" not in values:
        values["entry"] = make_entry(goal.student, (goal, 600), day=day)
    return Result.objects.create(**values)


def make_note(student: Student, discomfort: int = 4, **over) -> HandNote:
    day = over.get("day", TODAY)
    values = {
        "student": student,
        "day": day,
        "at": dt.datetime.combine(day, dt.time(17, 40), tzinfo=dt.UTC),
        "by": "student",
        "discomfort": discomfort,
        **over,
    }
    if discomfort:
        values.setdefault("hand", "fretting")
        values.setdefault("place", "wrist")
        values.setdefault("sensation", "ache")
    return HandNote.objects.create(**values)


def make_song(teacher: Teacher, **over) -> Song:
    """A song in G with three chords."""
    title = f"Song {next(_count)}"
    return Song.objects.create(**{"teacher": teacher, "title": title, "key": "G", "chords": "G C D", **over})


def make_performance(student: Student, *goals: Goal, **over) -> Performance:
    """A concert three weeks after TODAY."""
    values = {"student": student, "title": "Summer concert", "day": TODAY + dt.timedelta(days=21), **over}
    performance = Performance.objects.create(**values)
    performance.goals.set(goals)
    return performance


def make_return(student: Student, **over) -> HandReturn:
    """An open stepwise return on its first level since yesterday."""
    day = over.get("begun_on", TODAY - dt.timedelta(days=1))
    values = {"student": student, "begun_on": day, "level_since": day, "steps": [[1, day.isoformat(), ""]], **over}
    return HandReturn.objects.create(**values)


def make_declined(student: Student, **over) -> Declined:
    """E-shape minor at B, declined two days before TODAY."""
    values = {"student": student, "candidate": "E-minor@B", "reason": "later", "day": TODAY - dt.timedelta(days=2)}
    return Declined.objects.create(**{**values, **over})
