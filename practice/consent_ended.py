"""What ends with a consent to hand notes: the advice and what it eased. The teacher is asked, without any value, to
talk with the family about the plan (students.held)."""

import datetime as dt

from practice.hand_acts import SPAN
from practice.handday import hand_day
from practice.models import PracticeEntry, TellTeacher
from practice.queries import student_facts
from students.models import Student

BY = {"student": PracticeEntry.By.STUDENT, "guardian": PracticeEntry.By.PARENT, "teacher": PracticeEntry.By.TEACHER}


def eases(student: Student, today: dt.date) -> bool:
    """Whether the hand makes the student's day another than planned. Eight queries."""
    day = hand_day(student_facts(student, today, since=today - SPAN), today)
    return day.no_barre or day.gently or day.stop or day.step is not None


def ask_for_a_talk(student: Student, by: str, now: dt.datetime) -> None:
    """Keeps for the teacher that the consent has ended; one that waits to be seen says it already."""
    about = TellTeacher.About.CONSENT
    if not TellTeacher.objects.filter(student=student, about=about, seen_at__isnull=True).exists():
        TellTeacher.objects.create(student=student, by=BY[by], at=now, about=about)
