"""A student's charts for the teacher: a part of the student's page for htmx, a page of its own without."""

import hashlib
import uuid

from django.db.models import Count, Max, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_cache_control, patch_vary_headers
from django.utils.http import quote_etag
from django.utils.translation import get_language
from django.views.decorators.http import condition, require_safe

from practice import charts as figures
from practice.asked import asked_of_weeks, rest_of
from practice.chart_calendar import CALENDAR_WEEKS, practice_calendar
from practice.chart_draw import Chart
from practice.chart_hand import BARRE_WEEKS, barre_and_discomfort, practice_load
from practice.chart_neck import neck_map
from practice.facts import GoalFacts, StudentFacts
from practice.handreturn import under_way
from practice.load import DAY, barre_seconds
from practice.progress import weekly_minutes
from practice.queries import student_facts
from practice.trend import Trend, trend
from students.calendar import week_of
from students.models import Student


def _student(request: HttpRequest, code: uuid.UUID) -> Student:
    return get_object_or_404(Student.objects.visible_to(request.viewer).select_related("studio"), code=code)


def last_change(student: Student, today) -> tuple:
    """What the drawings follow from, in short: newest changes, counts and sums. Seven queries.

    Counts and sums stand beside the newest change so that something erased or corrected is seen as well.
    """
    rows = (
        student.entries.aggregate(Count("pk"), Max("changed_at"), Sum("seconds"), Sum("tiring")),
        student.results.aggregate(Count("pk"), Max("pk"), Max("at"), Sum("value")),
        student.hand_notes.aggregate(Count("pk"), Max("pk"), Max("at"), Sum("discomfort"), Max("closed_at")),
        student.hand_returns.aggregate(Count("pk"), Max("level_since"), Max("ended_on")),
        student.goals.aggregate(Count("pk"), Max("changed_at"), Sum("target"), Count("set_aside_at")),
    )
    plan = (student.plan_week, student.plan_days, student.joined, student.name)
    plan += (student.studio.week_start, student.studio.zone)
    # the neck that the map shows, and since when
    plan += (student.instrument, student.tuning, student.capo, student.plays, student.instrument_since)
    return (today, student.may_keep_hand_values(today), *plan, *(tuple(row.items()) for row in rows))


def charts_etag(request: HttpRequest, student: uuid.UUID) -> str:
    """Changes with the data, the day, the drawing code and whoever asks; a whole page holds a form's token too."""
    row = _student(request, student)
    today = row.studio.today(timezone.now())
    whose = (request.viewer.role, request.viewer.name, bool(request.htmx), get_language())
    if not request.htmx:
        whose += (request.META.get("CSRF_COOKIE"),)
    seen = repr((figures.DRAWING, whose, last_change(row, today)))
    return quote_etag(hashlib.sha256(seen.encode()).hexdigest()[:32])


def since_of(student: Student, today):
    """First day of the entries that the figures read: the calendar's."""
    return student.studio.week_of(today) - (CALENDAR_WEEKS - 1) * figures.WEEK


def figures_of(facts: StudentFacts, today) -> list[Chart]:
    """The charts of one student: what the student sees too, then the neck, and the hand under consent.

    facts: with entries from `since_of` on.
    """
    drawn = own_figures_of(facts, today)
    others = [neck_map(facts, today)]
    if facts.hand_consent:
        first = week_of(today, facts.week_start) - (BARRE_WEEKS - 1) * figures.WEEK
        barres = barre_seconds(facts, first, today + DAY)
        others.append(practice_load(facts.entries, today))
        others.append(barre_and_discomfort(facts.notes, barres, today, week_start=facts.week_start, since=facts.joined))
    return drawn[:2] + others + drawn[2:]


def own_figures_of(facts: StudentFacts, today) -> list[Chart]:
    """Calendar, minutes, and each goal that was measured, newest first. Of the hand nothing but what a week asks for
    (practice.asked)."""
    weeks = weekly_minutes(facts.entries, today, figures.WEEKS, facts.week_start)
    plan = 0 if under_way(facts, today) else facts.plan_week
    measured = [goal for goal in facts.active_goals if goal.own_marks]
    measured.sort(key=lambda goal: goal.own_marks[-1].at, reverse=True)
    return [
        practice_calendar(
            facts.entries, today, plan_days=facts.plan_days, week_start=facts.week_start, since=facts.joined,
            rest=rest_of(facts, today),
        ),
        figures.minutes_by_week(
            weeks, plan, facts.joined, asked=asked_of_weeks(facts, [week.start for week in weeks], today)
        ),
        *(goal_line(goal, facts, today) for goal in measured),
    ]


def goal_line(goal: GoalFacts, facts: StudentFacts, today, start=None) -> Chart:
    """A goal's line with its trend, where it has one, and the change of instrument."""
    found = trend(goal, today, facts.instrument_since)
    return figures.goal_over_time(
        goal,
        today,
        trend=found if isinstance(found, Trend) else None,
        instrument_since=facts.instrument_since,
        start=start,
    )


@require_safe
@condition(etag_func=charts_etag)
def charts(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    row = _student(request, student)
    today = row.studio.today(timezone.now())
    facts = student_facts(row, today, since_of(row, today))
    context = {
        "student": row,
        "nav": "roster",
        "charts": figures_of(facts, today),
        "hand_consent": facts.hand_consent,
        "level": 3 if request.htmx else 2,
    }
    response = render(request, "practice/_charts.html" if request.htmx else "practice/charts.html", context)
    patch_vary_headers(response, ["HX-Request"])
    # kept by the browser, asked for again each time: a repeat costs the query of the last change and no drawing
    patch_cache_control(response, private=True, no_cache=True)
    return response
