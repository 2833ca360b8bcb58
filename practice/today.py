"""The day's lessons: whose they are, and what each student did, read for the whole day at once."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Q

from practice.attention import first_told
from practice.models import HandEpisode, TellTeacher
from students.models import Lesson, Student
from students.viewer import Viewer


@dataclass(frozen=True)
class Slot:
    """One lesson of a day. row: what was recorded of it, or None while nothing is; moved_here: not on the weekly
    slot but recorded for this day."""

    student: Student
    time: dt.time | None
    row: Lesson | None = None
    moved_here: bool = False

    @property
    def off(self) -> bool:
        """Whether nobody comes: called off, not come, or moved away to another day."""
        if self.row is None:
            return False
        if self.row.outcome == Lesson.Outcome.MOVED:
            return not self.moved_here
        return self.row.outcome != Lesson.Outcome.HELD


def slots_of(students: Iterable[Student], lessons: Iterable[Lesson], day: dt.date) -> list[Slot]:
    """The lessons of `day` in time order: by weekly slot, and those recorded for the day outside it.

    students: candidates, with `lesson_weekday` on the day or with a row in `lessons`; lessons: rows of the day.
    Paused and archived students have no slot, but keep what was recorded.
    """
    row_of = {lesson.student_id: lesson for lesson in lessons}
    found = []
    for student in students:
        row = row_of.get(student.pk)
        by_slot = student.status == Student.Status.ACTIVE and day >= student.joined and student.has_lesson_on(day)
        if row is None and not by_slot:
            continue
        time = row.time if row is not None and row.time is not None else student.lesson_time
        found.append(Slot(student, time, row, moved_here=not by_slot))
    return sorted(found, key=lambda slot: (slot.time is None, slot.time or dt.time.min, slot.student.name))


def day_slots(viewer: Viewer, day: dt.date, today: dt.date) -> list[Slot]:
    """The lessons of `day` that the viewer may see, students with their consent as of `today`. Two queries."""
    lessons = list(Lesson.objects.visible_to(viewer).on(day))
    recorded = Q(pk__in=[lesson.student_id for lesson in lessons])
    students = (
        Student.objects.visible_to(viewer)
        .select_related("studio", "teacher")
        .with_hand_consent(today)
        .filter(recorded | Q(lesson_weekday=day.weekday(), status=Student.Status.ACTIVE))
    )
    return slots_of(students, lessons, day)


def next_day_with_lessons(viewer: Viewer, after: dt.date) -> dt.date | None:
    """The first day later than `after` on which one of the viewer's students has a weekly slot. One query."""
    students = Student.objects.visible_to(viewer).active().filter(lesson_weekday__isnull=False)
    days = (student.next_lesson(max(after, student.joined - dt.timedelta(days=1))) for student in students)
    return min((day for day in days if day is not None), default=None)


def unseen_tells(students: Sequence[Student]) -> dict[int, str]:
    """What a teacher is to hear of each student without a value, and none has seen (attention.TELLS), by primary key;
    a student of whom nothing waits is not in it. One query."""
    rows = TellTeacher.objects.filter(student__in=students, seen_at__isnull=True)
    found: dict[int, list[str]] = defaultdict(list)
    for student, about in rows.values_list("student_id", "about"):
        found[student].append(about)
    return {student: first_told(abouts) for student, abouts in found.items()}


def open_episodes(students: Sequence[Student]) -> dict[int, dt.date]:
    """The day on which each student's open episode began, by primary key. One query."""
    rows = HandEpisode.objects.filter(student__in=students, closed_at__isnull=True)
    return dict(rows.values_list("student_id", "opened_on"))
