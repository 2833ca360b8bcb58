"""What the roster shows of each student, asked for all of them at once.

Conventions: a week is the studio's; minutes are summed as seconds and rounded once; the last 14 days are today and
the thirteen before; hand values are read only where the right consent stands.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Case, Exists, F, IntegerField, Max, OuterRef, QuerySet, Subquery, Sum, When
from django.db.models.functions import Coalesce

from practice.asked import Asked, asked_of, days_at_rest
from practice.attention import (
    TELLS,
    AttentionInput,
    Reason,
    attention,
    hand_asks,
    hand_unseen,
    nothing_played,
    still_open,
)
from practice.facts import GoalFacts, HandFacts, Mark
from practice.measures import MEASURES
from practice.models import Goal, HandEpisode, HandNote, HandReturn, PracticeEntry, Result, TellTeacher
from practice.progress import state
from students.models import Student
from students.viewer import Viewer

HAND_DAYS = 14
WEEK = dt.timedelta(days=7)


def on_roster(viewer: Viewer, today: dt.date) -> QuerySet[Student]:
    """The viewer's students, each with what its row shows. One query.

    Annotated: `seconds_this_week`, `seconds_last_week` (0 without an entry), `last_entry` (day or None),
    `worst_hand` (0 to 10, None without a note or a consent), `hand_consent`, `tell` (attention.TELLS, or None),
    `return_since` and `episode_since` (the day on which the step of an open return began, or an open episode, or None;
    read with the notes, under consent alone). Every to-many table
    has a subquery of its own: two of them joined in one query would multiply each other's sums.
    """
    week = viewer.studio.week_of(today)
    returns = HandReturn.objects.filter(student=OuterRef("pk"), ended_on__isnull=True)
    episodes = HandEpisode.objects.filter(student=OuterRef("pk"), closed_at__isnull=True)
    order = Case(*(When(about=about, then=place) for place, about in enumerate(TELLS)), output_field=IntegerField())
    tells = TellTeacher.objects.filter(student=OuterRef("pk"), seen_at__isnull=True).order_by(order)
    return (
        Student.objects.visible_to(viewer)
        .select_related("teacher", "studio")
        .with_hand_consent(today)
        .annotate(
            seconds_this_week=_seconds(week, week + WEEK),
            seconds_last_week=_seconds(week - WEEK, week),
            last_entry=_of_student(PracticeEntry.objects.filter(day__lte=today), Max("day")),
            tell=Subquery(tells.values("about")[:1]),
            return_since=Subquery(returns.values("level_since")[:1]),
            episode_since=Subquery(episodes.values("opened_on")[:1]),
        )
        .annotate(worst_hand=_worst_hand(today))
        .order_by("name", "pk")
    )


def _of_student(rows: QuerySet, aggregate: Sum | Max) -> Subquery:
    """One aggregate over the rows of the outer query's student, without a join."""
    grouped = rows.filter(student=OuterRef("pk")).order_by().values("student")
    return Subquery(grouped.annotate(value=aggregate).values("value"))


def _seconds(start: dt.date, end: dt.date) -> Coalesce:
    return Coalesce(_of_student(PracticeEntry.objects.on_days(start, end), Sum("seconds")), 0)


def _worst_hand(today: dt.date) -> Case:
    first = today - dt.timedelta(days=HAND_DAYS - 1)
    notes = HandNote.objects.filter(day__gte=first, day__lte=today)
    return Case(
        When(hand_consent=True, then=_of_student(notes, Max("discomfort"))),
        default=None,
        output_field=IntegerField(),
    )


def by_column(students: QuerySet[Student], column: str, descending: bool) -> QuerySet[Student]:
    """Sorted by "name", "lesson", "week", "quiet", "hand" or "teacher"; who has no value stands last either way."""
    keys = {
        "name": ["name"],
        "lesson": ["lesson_weekday", "lesson_time"],
        "week": ["seconds_this_week"],
        "quiet": ["last_entry"],
        "hand": ["worst_hand"],
        "teacher": ["teacher__name"],
    }[column]
    # most days since the last entry is the earliest last entry
    if column == "quiet":
        descending = not descending
    ordering = [F(key).desc(nulls_last=True) if descending else F(key).asc(nulls_last=True) for key in keys]
    return students.order_by(*ordering, "name", "pk")


@dataclass(frozen=True)
class Look:
    """What is computed of a student's row: why it needs attention, and what this week asks."""

    reasons: list[Reason]
    asked: Asked


def looks_of(students: Sequence[Student], today: dt.date) -> dict[int, Look]:
    """A look at each student, by primary key; nobody is missing. Three queries, for any number.

    students: of `on_roster`.
    """
    hands = _hands(students)
    late = _past_due(students, today)
    found = {}
    for student in students:
        notes = hands.get(student.pk, [])
        worst, signs = hand_unseen(notes)
        due = late.get(student.pk, [])
        rest, stopped = days_at_rest(notes, today), nothing_played(notes, student.return_since, today)
        reasons = attention(
            AttentionInput(
                today=today,
                joined=student.joined,
                status=student.status,
                hand_unseen=worst,
                hand_signs=signs,
                hand_asks=hand_asks(notes, student.return_since, today),
                hand_open=student.hand_consent and still_open(student.episode_since, notes, today),
                tell=student.tell or "",
                last_entry=student.last_entry,
                past_due=len(due),
                due_since=due[0].due if due else None,
                due_title=due[0].title if due else "",
                plan_week=student.plan_week,
                minutes_this_week=round(student.seconds_this_week / 60),
                minutes_last_week=round(student.seconds_last_week / 60),
                rest=rest,
                stopped=stopped,
            )
        )
        week = student.studio.week_of(today)
        asked = asked_of(student.plan_days, student.plan_minutes, week, rest, today if stopped else None)
        found[student.pk] = Look(reasons, asked)
    return found


def reasons_of(students: Sequence[Student], today: dt.date) -> dict[int, list[Reason]]:
    """Why each student needs attention, by primary key."""
    return {key: look.reasons for key, look in looks_of(students, today).items()}


def _hands(students: Iterable[Student]) -> dict[int, list[HandFacts]]:
    """The notes of each student, under consent, who has an unseen one, one that stops all playing, an open return or an
    open episode. One query."""
    zone = {student.pk: student.studio.zone for student in students if student.hand_consent}
    same = HandNote.objects.filter(student=OuterRef("student"))
    returns = HandReturn.objects.filter(student=OuterRef("student"), ended_on__isnull=True)
    episodes = HandEpisode.objects.filter(student=OuterRef("student"), closed_at__isnull=True)
    wanted = Exists(same.unseen()) | Exists(same.may_stop()) | Exists(returns) | Exists(episodes)
    notes: dict[int, list[HandFacts]] = defaultdict(list)
    for note in HandNote.objects.filter(wanted, student__in=zone).order_by("at", "pk"):
        notes[note.student_id].append(note.facts_in(zone[note.student_id]))
    return notes


def _past_due(students: Iterable[Student], today: dt.date) -> dict[int, list[GoalFacts]]:
    """Active goals due before today, neither secure nor waiting for review, earliest first. Two queries."""
    keys = [student.pk for student in students]
    goals = list(Goal.objects.active().filter(student__in=keys, due__lt=today).in_order())
    marks: dict[int, list[Mark]] = defaultdict(list)
    results = Result.objects.filter(goal__in=[goal.pk for goal in goals], measure=F("goal__measure"))
    fields = ("goal_id", "day", "at", "measure", "value", "lesson_id")
    for goal_id, day, at, measure, value, lesson_id in results.in_order().values_list(*fields):
        marks[goal_id].append(Mark(day, at, measure, value, lesson_id is not None))
    late: dict[int, list[GoalFacts]] = defaultdict(list)
    for goal in goals:
        facts = GoalFacts(
            code=str(goal.code),
            kind=goal.kind,
            theory=goal.theory,
            title=goal.title,
            measure=MEASURES[goal.measure],
            target=goal.target,
            set_on=goal.day,
            due=goal.due,
            marks=tuple(marks[goal.pk]),
        )
        # whether it is secure follows from its measurements alone, so the segments need not be read
        if not state(facts, today).known:
            late[goal.student_id].append(facts)
    return late
