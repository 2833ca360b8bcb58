"""A student's own progress: days, minutes, each goal's line to its target, what is secure. Nothing of anybody else,
and nothing of the hand: how it felt is asked and answered, not looked back at here. What rests today is said to rest,
and a song that needs it is not one to play now."""

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import condition, require_GET

from practice import charts as figures
from practice import progress
from practice.facts import GoalFacts, Mark, StudentFacts
from practice.goal_voicings import rests
from practice.handday import hand_day
from practice.queries import student_facts
from practice.said import Said, said
from practice.song_table import ready_titles
from practice.suggest import in_hand
from practice.summary import HALF_YEAR, over_plan, planned
from practice.trend import Told, left_out, told
from practice.views.charts import charts_etag, own_figures_of, since_of
from practice.words import say
from students.models import Student
from students.viewer import Role, open_to

# The days of so many finished weeks are told; the chart's table has all twelve weeks.
TOLD_WEEKS = 4


@dataclass(frozen=True)
class Line:
    """A goal's line: state with its reason, the last day's try, and where it is going, with the results it rests on;
    earlier: since when the instrument is the present one, where earlier results are left out of that; rests: today."""

    goal: GoalFacts
    state: progress.State
    last: Mark | None
    told: Told | None = None
    earlier: dt.date | None = None
    rests: bool = False


def _facts(student: Student, today: dt.date) -> StudentFacts:
    since = student.studio.week_of(today) - (figures.WEEKS - 1) * figures.WEEK
    return student_facts(student, today, min(since, today - HALF_YEAR))


def lines_of(facts: StudentFacts, today: dt.date) -> tuple[list[Line], list[Line]]:
    """(what is secure, what is on the way): the active goals, and of those set aside the ones that were secure."""
    secure, on_the_way = [], []
    hand = hand_day(facts, today)
    for goal in facts.goals:
        known = progress.was_secure(goal, today)
        if goal.set_aside and not known:
            continue
        last = next(iter(progress.last_tries(goal, today, count=1)), None)
        going = told(goal, today, facts.instrument_since)
        resting = not goal.set_aside and rests(goal.theory, facts, hand)
        line = Line(goal, progress.state(goal, today), last, going, left_out(goal, facts.instrument_since), resting)
        (secure if known else on_the_way).append(line)
    return secure, on_the_way


def more_than_planned(facts: StudentFacts, weeks: Sequence[progress.Week], today: dt.date) -> Said | None:
    """That this week or the last one was far over the plan, by the rule of practice.attention; nothing of it where a
    return's step stands in place of the plan, or nothing is played."""
    hand = hand_day(facts, today)
    if hand.stop or hand.step is not None:
        return None
    if over_plan(facts, weeks[-1].minutes):
        return said("progress-over-this-week")
    if len(weeks) > 1 and over_plan(facts, weeks[-2].minutes):
        return said("progress-over-last-week", minutes=weeks[-2].minutes, plan=facts.plan_week)
    return None


@open_to(Role.STUDENT)
@require_GET
def page(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    row = request.viewer.student
    today = row.studio.today(timezone.now())
    facts = _facts(row, today)
    weeks = progress.weekly_minutes(facts.entries, today, figures.WEEKS, facts.week_start)
    before = [week for week in weeks[:-1] if week.start + progress.WEEK > facts.joined][-TOLD_WEEKS:]
    secure, on_the_way = lines_of(facts, today)
    now = weeks[-1]
    beside = planned(facts, now.start, today, now.days, now.minutes)
    context: dict[str, Any] = {
        "student": row,
        "now": now,
        "days": sorted({entry.day for entry in facts.entries if now.start <= entry.day <= today}),
        "too_much": say(more_than_planned(facts, weeks, today)),
        "before": before,
        "before_days": sum(week.days for week in before),
        "beside": [say(one) for one in beside],
        "spacing": say(progress.one_day_weeks(facts, today)),
        "secure": secure,
        "on_the_way": on_the_way,
        "songs": [] if hand_day(facts, today).stop else ready_titles(
            row, in_hand(facts, today), facts.instrument, facts.hand
        ),
    }
    return render(request, "practice/my_progress.html", context)


@open_to(Role.STUDENT)
@require_GET
@condition(etag_func=charts_etag)
def charts(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """The figures, fetched beside the page's words, or a page of their own without a script."""
    row = request.viewer.student
    today = row.studio.today(timezone.now())
    facts = student_facts(row, today, since_of(row, today))
    whole = "fragment" not in request.GET
    context = {
        "student": row,
        "charts": own_figures_of(facts, today),
        "hand_consent": True,  # no word on the chart of the hand, which is the teacher's
        "level": 2 if whole else 3,
    }
    return render(request, "practice/my_progress_charts.html" if whole else "practice/_charts.html", context)
