"""The figures of a term report: the calendar, the minutes, and the lines of goals that were measured in the term."""

import datetime as dt

from practice import charts
from practice.asked import asked_of_weeks, rest_of
from practice.chart_calendar import practice_calendar
from practice.chart_draw import Chart
from practice.facts import GoalFacts, StudentFacts
from practice.handreturn import under_way
from practice.progress import first_tries, weekly_minutes
from practice.report import Report
from practice.trend import Trend, trend
from students.calendar import week_of

MOST_LINES = 6
# One point is no line: it stands in the table.
LINE_FROM = 2


def figures_of(report: Report, facts: StudentFacts) -> list[Chart]:
    """Calendar and minutes of the whole term, then at most six goals' lines: those reached, then those to come."""
    seen_on, start = report.seen_on, max(report.start, facts.joined)
    weeks = max(1, (week_of(seen_on, facts.week_start) - week_of(start, facts.week_start)).days // 7 + 1)
    within = [entry for entry in facts.entries if entry.day >= start]
    by_week = weekly_minutes(within, seen_on, weeks, facts.week_start)
    drawn = [
        practice_calendar(
            facts.entries,
            seen_on,
            plan_days=facts.plan_days,
            weeks=weeks,
            week_start=facts.week_start,
            since=facts.joined,
            start=report.start,
            rest=rest_of(facts, seen_on),
        ),
        # the plan does not hold while somebody comes back step by step
        charts.minutes_by_week(
            by_week,
            0 if under_way(facts, seen_on) else facts.plan_week,
            facts.joined,
            asked=asked_of_weeks(facts, [week.start for week in by_week], seen_on),
        ),
    ]
    return drawn + [_line(goal, facts, report) for goal in lines_of(report, facts)]


def lines_of(report: Report, facts: StudentFacts) -> list[GoalFacts]:
    """The goals whose lines are drawn."""
    goals = {goal.code: goal for goal in facts.goals}
    shown = []
    for line in (*report.reached, *report.coming):
        goal = goals[line.code]
        tries = [mark for mark in first_tries(goal, report.seen_on) if mark.day >= report.start]
        if len(tries) >= LINE_FROM:
            shown.append(goal)
    return shown[:MOST_LINES]


def _line(goal: GoalFacts, facts: StudentFacts, report: Report) -> Chart:
    since = max(report.start, facts.instrument_since or dt.date.min)
    found = trend(goal, report.seen_on, since)
    return charts.goal_over_time(
        goal,
        report.seen_on,
        trend=found if isinstance(found, Trend) else None,
        instrument_since=facts.instrument_since,
        start=report.start,
    )
