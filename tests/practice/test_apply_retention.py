"""The command that applies retention: what is due goes, nothing else, twice is once, no name is printed."""

import datetime as dt
import io

import pytest
from axes.models import AccessAttempt
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from practice import erase, retention
from practice.models import TellTeacher
from students.models import Student, Tries
from students.retention import months_after
from tests.filled import MARK, everything, made, marked_student

DAY = dt.timedelta(days=1)


def run(*words):
    out = io.StringIO()
    call_command("apply_retention", *words, stdout=out)
    return out.getvalue()


@pytest.fixture
def edge(cast):
    """The day on which somebody who is due today left; the cast's studio keeps 24 months."""
    today = cast.studio.today(timezone.now())
    edge = months_after(today, -24)
    assert months_after(edge, 24) <= today
    return edge


def leave(student, day, **over):
    Student.objects.filter(pk=student.pk).update(status="archived", left_on=day, **over)


def names():
    return set(Student.objects.values_list("name", flat=True))


def test_who_is_due_goes_and_who_is_not_stays(cast, edge):
    due = marked_student(cast.teacher)
    made(due)
    leave(due, edge)
    leave(cast.child, edge + DAY)  # tomorrow
    leave(cast.student, edge - 400 * DAY)
    Student.objects.filter(pk=cast.student.pk).update(status="paused")  # paused is not left
    leave(cast.far_student, edge)  # another studio, which keeps them longer
    cast.far_student.studio.retention_months = 25
    cast.far_student.studio.save()

    said = run()
    assert "Nothing is changed" in said
    assert "studio 1: 24 months; students: 1\n" in said
    assert "studio 2: 25 months; students: 0\n" in said
    assert names() >= {due.name}
    assert run("--yes", "--dry-run") == said

    said = run("--yes")
    assert "studio 1: 24 months; students: 1, rows: " in said
    assert names() == {"Kit Child", "Robin Example", "Toni Other", "Far Student"}
    assert not any(MARK.lower() in rows.lower() for rows in everything(connection).values())
    assert "students: 0, rows: 0" in run("--yes")  # twice is once


def test_nothing_printed_names_anybody(cast, edge):
    due = marked_student(cast.teacher)
    made(due)
    leave(due, edge)
    text = run() + run("--yes")
    for name in (MARK, MARK.lower(), str(due.code), "Test Lane", "Kit", "@"):
        assert name not in text


def test_who_left_before_days_were_noted_is_counted_from_now(cast, edge):
    leave(cast.child, None)
    assert "archived without a day, counted from today: 1" in run()
    cast.child.refresh_from_db()
    assert cast.child.left_on is None
    run("--yes")
    cast.child.refresh_from_db()
    assert cast.child.left_on == cast.studio.today(timezone.now())


def test_each_studio_by_its_own_day(cast):
    """At half past eleven in the evening in London it is tomorrow in Auckland."""
    now = dt.datetime(2025, 12, 31, 23, 30, tzinfo=dt.UTC)
    cast.far_student.studio.zone = "Pacific/Auckland"
    cast.far_student.studio.save()
    for student in (cast.far_student, cast.child):
        leave(student, dt.date(2024, 1, 1))
    assert retention.apply_to(cast.far_student.studio, now, dry=False).students == 1
    assert retention.apply_to(cast.child.studio, now, dry=False).students == 0


def test_another_machine_was_first(cast, edge, monkeypatch):
    """Two runs list the same students; whoever comes second erases nothing and counts nothing."""
    leave(cast.child, edge)
    real, listed = erase.erase_record, Student.objects.get(pk=cast.child.pk)
    assert real(cast.child) is not None
    assert real(listed, retention.due(cast.studio, edge)) is None

    leave(cast.student, edge)

    def taken_back_first(student, still, **over):
        Student.objects.filter(pk=student.pk).update(status="active", left_on=None)
        return real(student, still, **over)

    monkeypatch.setattr(retention, "erase_record", taken_back_first)
    assert "students: 0, rows: 0" in run("--yes")
    assert "Robin Example" in names()


def test_what_else_is_not_kept_for_ever(cast):
    now = timezone.now()
    for days in (29, 31):
        row = AccessAttempt.objects.create(username=f"u{days}", failures_since_start=1)
        AccessAttempt.objects.filter(pk=row.pk).update(attempt_time=now - days * DAY)
    for days in (364, 366):
        TellTeacher.objects.create(student=cast.child, by="student", at=now - 500 * DAY, seen_at=now - days * DAY)
    TellTeacher.objects.create(student=cast.child, by="student", at=now - 500 * DAY)  # seen by nobody yet
    for days in (1, -1):
        session = SessionStore()
        session.save()
        Session.objects.filter(pk=session.session_key).update(expire_date=now + days * DAY)
    for hours in (23, 25):
        Tries.objects.create(key=f"{hours}", count=1, since=now - dt.timedelta(hours=hours))
    assert "sessions: 1; sign-ins: 1; tells: 1; tries: 1" in run()
    assert (TellTeacher.objects.count(), Tries.objects.count()) == (3, 2)
    assert "sessions: 1; sign-ins: 1; tells: 1; tries: 1" in run("--yes")
    assert [one.username for one in AccessAttempt.objects.all()] == ["u29"]
    assert [one.key for one in Tries.objects.all()] == ["23"]
    assert (TellTeacher.objects.count(), Session.objects.count()) == (2, 1)
    assert "sessions: 0; sign-ins: 0; tells: 0; tries: 0" in run("--yes")


def test_the_file_is_rewritten_each_night_even_when_nothing_went(cast, monkeypatch):
    """An erasure of the day may have left it to the night (practice.erase.pack_soon)."""
    packed = []
    monkeypatch.setattr("practice.management.commands.apply_retention.pack", lambda: packed.append(1))
    run()
    assert packed == []
    run("--yes")
    assert packed == [1]
