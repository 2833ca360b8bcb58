"""How work is asked for: every QuerySet starts from what the viewer may see."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Exists, Max, OuterRef, Q

from practice.facts import EntryFacts, GoalFacts, HandFacts, Mark, PerformanceFacts, ReturnFacts, StudentFacts
from practice.handcare import stopped_by
from practice.handrows import SEVERE
from practice.measures import MEASURES
from students.calendar import local_day
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


# Whatever stops all playing is among these; a test holds them to the rule book.
MAY_STOP = Q(discomfort__gte=SEVERE) | Q(sudden=True) | Q(face_arm_leg=True) | ~Q(also=[])


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

    def may_stop(self):
        """All those that stop all playing (`practice.handcare.stopped_by` says which), and a few beside."""
        return self.filter(MAY_STOP)


class SongQuerySet(models.QuerySet):
    """Songs of a teacher's song book: the teacher's own, and for the owner the whole studio's."""

    def visible_to(self, viewer: "Viewer"):
        if viewer.owns:
            return self.filter(teacher__studio=viewer.studio)
        if viewer.teaches:
            return self.filter(teacher=viewer.teacher)
        return self.none()

    def played_by(self, student: Student):
        """The book that a student plays from, whoever looks: their teacher's."""
        return self.filter(teacher=student.teacher_id)


def last_entry_days(students: Sequence[Student], today: dt.date) -> dict[int, dt.date]:
    """The day of each student's newest entry up to `today`, however old, by primary key; whoever has none is left out.
    One query."""
    from practice.models import PracticeEntry

    rows = PracticeEntry.objects.filter(student__in=[student.pk for student in students], day__lte=today)
    return dict(rows.order_by().values_list("student").annotate(last=Max("day")))


def student_facts(student: Student, today: dt.date, since: dt.date | None = None) -> StudentFacts:
    """One student's rows as plain values: goals with all their results, entries and hand notes from `since` on.

    Eight queries, however long the history: consent, and the seven of `facts_of`. `student` comes with its studio.
    """
    student.hand_consent = student.may_keep_hand_values(today)
    return facts_of([student], today, since)[student.pk]


def facts_of(students: Sequence[Student], today: dt.date, since: dt.date | None = None) -> dict[int, StudentFacts]:
    """The same for many students, by primary key. Seven queries: goals, results, segments, entries, notes,
    performances with their goals, stepwise returns.

    students: with their studio and `hand_consent` (StudentQuerySet.with_hand_consent).
    Hand values are read only under a standing consent: without it there are no notes, and no entry says how tiring.
    since: entries and hand notes from this day on, and earlier notes that stopped all playing and were not closed
    before that day: what nobody has closed holds, however long ago it was. Of goals set aside, segments from that day
    on; those that are active keep theirs all, since whether a goal was ever practised decides its state.
    """
    from practice.models import Goal, HandNote, HandReturn, Performance, PracticeEntry, Result, Segment

    since = since or dt.date.min
    keys = [student.pk for student in students]
    instrument = {student.pk: student.theory_instrument() for student in students}

    marks: dict[int, list[Mark]] = defaultdict(list)
    results = Result.objects.filter(student__in=keys).in_order()
    fields = ("goal_id", "day", "at", "measure", "value", "lesson_id", "failed_strings")
    for goal_id, day, at, measure, value, lesson_id, failed in results.values_list(*fields):
        marks[goal_id].append(Mark(day, at, measure, value, lesson_id is not None, tuple(failed)))

    practised: dict[int, list[tuple[dt.date, int]]] = defaultdict(list)
    parts: dict[int, list[tuple[str, int]]] = defaultdict(list)
    wanted = Q(entry__day__gte=since) | Q(goal__set_aside_at__isnull=True)
    segments = Segment.objects.filter(wanted, entry__student__in=keys).order_by("entry__begun", "pk")
    for entry_id, goal_id, code, seconds, day in segments.values_list(
        "entry_id", "goal_id", "goal__code", "seconds", "entry__day"
    ):
        practised[goal_id].append((day, seconds))
        parts[entry_id].append((str(code), seconds))

    agreed = {student.pk for student in students if student.hand_consent}
    zone = {student.pk: student.studio.zone for student in students}
    shows: dict[int, dict[str, PerformanceFacts]] = defaultdict(dict)
    kept_for: dict[int, list[tuple[dt.date, dt.date]]] = defaultdict(list)
    rows = Performance.objects.filter(student__in=keys).order_by("day", "pk", "goals__pk")
    for student_id, code, title, day, pieces, made, goal_id, goal_code in rows.values_list(
        "student_id", "code", "title", "day", "pieces", "created_at", "goals__pk", "goals__code"
    ):
        lines = tuple(line.strip() for line in pieces.splitlines() if line.strip())
        one = shows[student_id].get(str(code)) or PerformanceFacts(str(code), title, day, lines)
        if goal_code is not None:
            one = replace(one, goals=(*one.goals, str(goal_code)))
            kept_for[goal_id].append((local_day(made, zone[student_id]), day))
        shows[student_id][str(code)] = one

    goals: dict[int, list[GoalFacts]] = defaultdict(list)
    for goal in Goal.objects.filter(student__in=keys).order_by("created_at", "pk"):
        terms = goal.theory
        goals[goal.student_id].append(
            GoalFacts(
                code=str(goal.code),
                kind=goal.kind,
                theory=terms,
                title=terms.title_text(instrument[goal.student_id]),
                measure=MEASURES[goal.measure],
                target=goal.target,
                set_on=goal.day,
                due=goal.due,
                start_value=goal.start_value,
                set_aside=goal.set_aside_at is not None,
                set_aside_on=goal.set_aside_at and local_day(goal.set_aside_at, zone[goal.student_id]),
                words=goal.words,
                hand_reason=goal.hand_reason if goal.student_id in agreed else "",
                marks=tuple(marks[goal.pk]),
                practised=tuple(practised[goal.pk]),
                kept_for=tuple(kept_for[goal.pk]),
            )
        )

    entries: dict[int, list[EntryFacts]] = defaultdict(list)
    for entry in PracticeEntry.objects.filter(student__in=keys, day__gte=since).order_by("begun", "pk"):
        entries[entry.student_id].append(
            EntryFacts(
                code=str(entry.code),
                day=entry.day,
                begun=entry.begun,
                seconds=entry.seconds,
                tiring=entry.tiring if entry.student_id in agreed else None,
                by=entry.by,
                segments=tuple(parts[entry.pk]),
                tiring_in_words=entry.tiring_in_words and entry.student_id in agreed,
            )
        )

    notes: dict[int, list[HandFacts]] = defaultdict(list)
    late_or_stops = Q(day__gte=since) | MAY_STOP
    for note in HandNote.objects.filter(late_or_stops, student__in=agreed).order_by("at", "pk"):
        found = note.facts_in(zone[note.student_id])
        if note.day >= since or (stopped_by(found) and (found.closed_on is None or found.closed_on >= since)):
            notes[note.student_id].append(found)

    returns: dict[int, ReturnFacts] = {}
    for step in HandReturn.objects.filter(student__in=agreed, ended_on__isnull=True):
        returns[step.student_id] = step.facts

    return {
        student.pk: StudentFacts(
            name=student.name,
            first_name=student.first_name,
            joined=student.joined,
            instrument=instrument[student.pk],
            hand=student.theory_hand(today),
            plan_days=student.plan_days,
            plan_minutes=student.plan_minutes,
            daily_most=student.daily_most,
            week_start=student.studio.week_start,
            age=student.age(today),
            minor=student.is_minor(today),
            hand_consent=student.hand_consent,
            next_lesson=student.next_lesson(today),
            goals=tuple(goals[student.pk]),
            entries=tuple(entries[student.pk]),
            notes=tuple(notes[student.pk]),
            performances=tuple(shows[student.pk].values()),
            hand_return=returns.get(student.pk),
            instrument_since=student.instrument_since,
        )
        for student in students
    }
