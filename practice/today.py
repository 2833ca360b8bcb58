"""The day's lessons: whose they are, and what each student did, read for the whole day at once."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from practice.facts import EntryFacts, GoalFacts, HandFacts, Mark, StudentFacts
from practice.measures import MEASURES
from practice.models import Goal, HandNote, PracticeEntry, Result, Segment, TellTeacher
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


def unseen_tells(students: Sequence[Student]) -> set[int]:
    """Primary keys of the students of whom somebody asked for a word about the hand, unseen. One query."""
    rows = TellTeacher.objects.filter(student__in=students, seen_at__isnull=True)
    return set(rows.values_list("student_id", flat=True))


def facts_of(students: Sequence[Student], today: dt.date, since: dt.date | None = None) -> dict[int, StudentFacts]:
    """What `practice.queries.student_facts` reads of one student, for many, by primary key. Five queries.

    students: with their studio and `hand_consent` (StudentQuerySet.with_hand_consent).
    since: entries with their segments and hand notes from this day on; goals with all their results always.
    """
    since = since or dt.date.min
    keys = [student.pk for student in students]

    goals: dict[int, list[Goal]] = defaultdict(list)
    code_of: dict[int, str] = {}
    for goal in Goal.objects.filter(student__in=keys).order_by("created_at", "pk"):
        goals[goal.student_id].append(goal)
        code_of[goal.pk] = str(goal.code)

    marks: dict[int, list[Mark]] = defaultdict(list)
    results = Result.objects.filter(student__in=keys).in_order()
    fields = ("goal_id", "day", "at", "measure", "value", "lesson_id", "failed_strings")
    for goal_id, day, at, measure, value, lesson_id, failed in results.values_list(*fields):
        marks[goal_id].append(Mark(day, at, measure, value, lesson_id is not None, tuple(failed)))

    practised: dict[int, list[tuple[dt.date, int]]] = defaultdict(list)
    parts: dict[int, list[tuple[str, int]]] = defaultdict(list)
    segments = Segment.objects.filter(entry__student__in=keys, entry__day__gte=since).order_by("entry__begun", "pk")
    for entry_id, goal_id, seconds, day in segments.values_list("entry_id", "goal_id", "seconds", "entry__day"):
        practised[goal_id].append((day, seconds))
        parts[entry_id].append((code_of[goal_id], seconds))

    entries: dict[int, list[EntryFacts]] = defaultdict(list)
    for entry in PracticeEntry.objects.filter(student__in=keys, day__gte=since).order_by("begun", "pk"):
        entries[entry.student_id].append(
            EntryFacts(
                str(entry.code), entry.day, entry.begun, entry.seconds, entry.tiring, entry.by, tuple(parts[entry.pk])
            )
        )

    notes: dict[int, list[HandFacts]] = defaultdict(list)
    for note in HandNote.objects.filter(student__in=keys, day__gte=since).order_by("at", "pk"):
        notes[note.student_id].append(_hand_facts(note))

    def goal_facts(goal: Goal) -> GoalFacts:
        return GoalFacts(
            code=str(goal.code),
            kind=goal.kind,
            theory=goal.theory,
            title=goal.title,
            measure=MEASURES[goal.measure],
            target=goal.target,
            set_on=goal.day,
            due=goal.due,
            start_value=goal.start_value,
            set_aside=goal.set_aside_at is not None,
            words=goal.words,
            marks=tuple(marks[goal.pk]),
            practised=tuple(practised[goal.pk]),
        )

    return {
        student.pk: StudentFacts(
            name=student.name,
            first_name=student.first_name,
            joined=student.joined,
            instrument=student.theory_instrument(),
            hand=student.theory_hand(today),
            plan_days=student.plan_days,
            plan_minutes=student.plan_minutes,
            daily_most=student.daily_most,
            week_start=student.studio.week_start,
            age=student.age(today),
            minor=student.is_minor(today),
            hand_consent=student.hand_consent,
            next_lesson=student.next_lesson(today),
            goals=tuple(goal_facts(goal) for goal in goals[student.pk]),
            entries=tuple(entries[student.pk]),
            notes=tuple(notes[student.pk]),
        )
        for student in students
    }


def _hand_facts(note: HandNote) -> HandFacts:
    words: dict[str, Any] = {name: getattr(note, name) for name in ("hand", "place", "sensation", "settles")}
    return HandFacts(
        note.day, note.at, note.discomfort, **words, seen=note.seen_at is not None, closed=note.closed_at is not None
    )
