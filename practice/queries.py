"""How work is asked for: every QuerySet starts from what the viewer may see."""

import datetime as dt
from collections import defaultdict
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Exists, OuterRef, Q

from practice.facts import EntryFacts, GoalFacts, HandFacts, Mark, StudentFacts
from practice.measures import MEASURES
from students.models import Student

if TYPE_CHECKING:
    from students.viewer import Viewer


class OfStudent(models.QuerySet):
    """Rows that hang on a student and are seen by whoever may see the student."""

    def visible_to(self, viewer: "Viewer"):
        return self.filter(student__in=Student.objects.visible_to(viewer))


class GoalQuerySet(OfStudent):
    def active(self):
        """Being worked on: not set aside."""
        return self.filter(set_aside_at__isnull=True)

    def in_order(self):
        return self.order_by("due", "created_at", "pk")


class EntryQuerySet(OfStudent):
    def on_days(self, start: dt.date, end: dt.date):
        """Entries whose local day lies in the half-open span start <= day < end."""
        return self.filter(day__gte=start, day__lt=end)

    def for_log(self):
        """All that an entry's row in a list reads, in three queries."""
        return self.prefetch_related("segments__goal", "results__goal").order_by("-begun", "-pk")


class ResultQuerySet(OfStudent):
    def in_order(self):
        return self.order_by("day", "at", "pk")


class HandNoteQuerySet(OfStudent):
    def open(self):
        """At 2 or more, not closed by the teacher, and no later note of 0 to 1 at the same place.

        A later "all is well" (0, which names no place) speaks for every place. The same rule on plain values
        is `practice.handcare.open_notes`; a test holds the two together.
        """
        later = self.model._default_manager.filter(
            Q(place=OuterRef("place")) | Q(place=""),
            student=OuterRef("student"),
            at__gt=OuterRef("at"),
            discomfort__lte=1,
        )
        return self.filter(~Exists(later), closed_at__isnull=True, discomfort__gte=2)

    def unseen(self):
        return self.filter(seen_at__isnull=True)


def student_facts(student: Student, today: dt.date, since: dt.date | None = None) -> StudentFacts:
    """One student's rows as plain values: goals with all their results, entries and hand notes from `since` on.

    Seven queries, however long the history (goals, results, entries, segments, notes, consent; `student` comes
    with its studio).
    """
    from practice.models import PracticeEntry, Segment

    since = since or dt.date.min
    marks: dict[int, list[Mark]] = defaultdict(list)
    results = student.results.in_order().values_list(
        "goal_id", "day", "at", "measure", "value", "lesson_id", "failed_strings"
    )
    for goal_id, day, at, measure, value, lesson_id, failed in results:
        marks[goal_id].append(Mark(day, at, measure, value, lesson_id is not None, tuple(failed)))
    goals = list(student.goals.order_by("created_at", "pk"))
    instrument = student.theory_instrument()
    code_of = {goal.pk: str(goal.code) for goal in goals}
    practised: dict[int, list[tuple[dt.date, int]]] = defaultdict(list)
    parts: dict[int, list[tuple[str, int]]] = defaultdict(list)
    segments = Segment.objects.filter(entry__student=student).order_by("entry__begun", "pk")
    for entry_id, goal_id, seconds, day in segments.values_list(
        "entry_id", "goal_id", "seconds", "entry__day"
    ):
        practised[goal_id].append((day, seconds))
        if day >= since:
            parts[entry_id].append((code_of[goal_id], seconds))
    entries = PracticeEntry.objects.filter(student=student, day__gte=since).order_by("begun", "pk")
    notes = student.hand_notes.filter(day__gte=since).order_by("at", "pk")
    return StudentFacts(
        name=student.name,
        first_name=student.first_name,
        joined=student.joined,
        instrument=instrument,
        hand=student.theory_hand(today),
        plan_days=student.plan_days,
        plan_minutes=student.plan_minutes,
        daily_most=student.daily_most,
        week_start=student.studio.week_start,
        age=student.age(today),
        minor=student.is_minor(today),
        hand_consent=student.may_keep_hand_values(today),
        next_lesson=student.next_lesson(today),
        goals=tuple(
            GoalFacts(
                code=str(goal.code),
                kind=goal.kind,
                theory=goal.theory,
                title=goal.theory.title_text(instrument),
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
            for goal in goals
        ),
        entries=tuple(
            EntryFacts(
                code=str(entry.code),
                day=entry.day,
                begun=entry.begun,
                seconds=entry.seconds,
                tiring=entry.tiring,
                by=entry.by,
                segments=tuple(parts[entry.pk]),
            )
            for entry in entries
        ),
        notes=tuple(
            HandFacts(
                day=note.day,
                at=note.at,
                discomfort=note.discomfort,
                hand=note.hand,
                place=note.place,
                sensation=note.sensation,
                settles=note.settles,
                seen=note.seen_at is not None,
                closed=note.closed_at is not None,
            )
            for note in notes
        ),
    )
