"""Applying the studios' retention: who left long enough ago is erased, and what nobody needs any more goes with it.

Besides students, these are not kept for ever: failed sign-ins (`SIGN_INS`), sessions that have ended, wishes for a
word that a teacher has seen (`SEEN_TELLS`), and counters of tries (`students.throttle`). Each step may be run twice, or
on two machines at once.
"""

import datetime as dt
import importlib
from collections import Counter
from dataclasses import dataclass

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db.models import Q, QuerySet

from practice.erase import erase_record
from practice.models import TellTeacher
from students import throttle
from students.models import Student, Studio
from students.retention import latest_leaving

# The lock of the sign-in page looks back 15 minutes; a month is for the owner who wonders about an attack.
SIGN_INS = dt.timedelta(days=30)
# Seen is heard: a year later nobody asks back.
SEEN_TELLS = dt.timedelta(days=365)


def due(studio: Studio, today: dt.date) -> Q:
    """True of the students who left longer ago than the studio keeps records."""
    return Q(
        studio=studio, status=Student.Status.ARCHIVED, left_on__lte=latest_leaving(today, studio.retention_months)
    )


def undated(studio: Studio) -> QuerySet:
    """Students who were archived before the day of leaving was noted."""
    return Student.objects.filter(studio=studio, status=Student.Status.ARCHIVED, left_on__isnull=True)


@dataclass
class Applied:
    """What one studio's retention came to. students: erased (or due, in a dry run); rows: that went with them; dated:
    archived students whose time begins today, because their day of leaving was not known."""

    students: int = 0
    rows: int = 0
    dated: int = 0


def apply_to(studio: Studio, now: dt.datetime, dry: bool) -> Applied:
    """Erases the records that are due in one studio. Whoever is taken back meanwhile, or erased elsewhere, is passed
    over. The caller packs the database file afterwards (practice.erase.pack)."""
    today = studio.today(now)
    condition = due(studio, today)
    found = Applied()
    if dry:
        found.students = Student.objects.filter(condition).count()
        found.dated = undated(studio).count()
        return found
    found.dated = undated(studio).update(left_on=today)
    for student in Student.objects.filter(condition).order_by("pk"):
        erased = erase_record(student, condition, tidy=False)
        if erased is not None:
            found.students += 1
            found.rows += erased.total
    return found


def apply_beside(now: dt.datetime, dry: bool) -> Counter[str]:
    """What is removed besides students' records, by what it is: sign-ins, tells, tries, sessions."""
    old = {
        "sign-ins": [
            AccessAttempt.objects.filter(attempt_time__lt=now - SIGN_INS),
            AccessFailureLog.objects.filter(attempt_time__lt=now - SIGN_INS),
            AccessLog.objects.filter(attempt_time__lt=now - SIGN_INS),
        ],
        "tells": [TellTeacher.objects.filter(seen_at__lt=now - SEEN_TELLS)],
        "tries": [throttle.stale(now)],
        "sessions": [Session.objects.filter(expire_date__lt=now)],
    }
    if dry:
        return Counter({what: sum(rows.count() for rows in sets) for what, sets in old.items()})
    sessions = old["sessions"][0].count()
    importlib.import_module(settings.SESSION_ENGINE).SessionStore.clear_expired()
    found = Counter({what: sum(rows.delete()[0] for rows in sets) for what, sets in old.items() if what != "sessions"})
    found["sessions"] = sessions
    return found
