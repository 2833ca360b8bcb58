"""A student's performances: put down, changed, removed, and the due days of their goals counted back from the day."""

import datetime as dt
import uuid
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from practice import stage
from practice.facts import GoalFacts, PerformanceFacts, StudentFacts
from practice.models import Performance
from practice.progress import State, state
from practice.queries import student_facts
from practice.stagework import PerformanceForm, move_due_days
from practice.words import say
from students.models import Student

# Entries that the pages read, for what is usual; goals and performances always.
SPAN = dt.timedelta(weeks=26)


@dataclass(frozen=True)
class Staged:
    """What a page of performances reads of one student."""

    student: Student
    facts: StudentFacts
    states: dict[str, State]
    today: dt.date

    def form(self, data: Any = None, instance: Performance | None = None) -> PerformanceForm:
        return PerformanceForm(
            data, student=self.student, facts=self.facts, states=self.states, today=self.today, instance=instance
        )

    def goals_of(self, one: PerformanceFacts) -> list[tuple[GoalFacts, State]]:
        goals = (goal for goal in self.facts.goals if goal.code in one.goals)
        return [(goal, self.states[goal.code]) for goal in sorted(goals, key=lambda goal: (goal.due, goal.code))]


def _staged(request: HttpRequest, code: Any) -> Staged:
    student = get_object_or_404(
        Student.objects.visible_to(request.viewer).select_related("studio", "teacher"), code=code
    )
    today = student.studio.today(timezone.now())
    facts = student_facts(student, today, since=today - SPAN)
    return Staged(student, facts, {goal.code: state(goal, today) for goal in facts.goals}, today)


def _found(staged: Staged, code: uuid.UUID) -> tuple[Performance, PerformanceFacts]:
    row = get_object_or_404(Performance.objects.filter(student=staged.student).prefetch_related("goals"), code=code)
    return row, next(one for one in staged.facts.performances if one.code == str(code))


@require_http_methods(["GET", "HEAD", "POST"])
def performances(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """Those ahead and those past; POST puts a new one down."""
    staged = _staged(request, student)
    form = staged.form(request.POST if request.method == "POST" else None)
    if form.is_valid():
        return _stored(request, form, staged)
    ahead = stage.ahead(staged.facts, staged.today)
    context = {
        "nav": "roster",
        "student": staged.student,
        "form": form,
        "ahead": [(one, lead(one, staged), staged.goals_of(one)) for one in ahead],
        "past": [one for one in reversed(staged.facts.performances) if one not in ahead],
    }
    return render(request, "practice/performances.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def performance(request: HttpRequest, student: uuid.UUID, performance: uuid.UUID) -> HttpResponse:
    """One performance with what counts back from its day; POST changes it."""
    staged = _staged(request, student)
    row, one = _found(staged, performance)
    form = staged.form(request.POST if request.method == "POST" else None, row)
    if form.is_valid():
        return _stored(request, form, staged)
    slow = stage.slow_down(staged.facts, staged.today)
    context = {
        "nav": "roster",
        "student": staged.student,
        "today": staged.today,
        # a refused form has its typed values on the row: the page speaks of what is stored
        "one": one,
        "lead": lead(one, staged),
        "goals": staged.goals_of(one),
        "due": stage.due_days(one, staged.facts, staged.states, staged.today),
        "past": one.day < staged.today,
        "slow": say(slow) if slow and one in stage.near(staged.facts, staged.today)[:1] else "",
        "beside": [other for other in staged.facts.performances if other != one and abs(other.day - one.day).days < 7],
        "pieces": [(piece, _as_goal(staged, one, piece)) for piece in one.pieces],
        "form": form,
    }
    return render(request, "practice/performance.html", context)


def lead(one: PerformanceFacts, staged: Staged) -> str:
    """How near it is, and in its last week what that means."""
    days = stage.days_to(one, staged.today)
    if days < 0:
        return ngettext("%(days)s day ago.", "%(days)s days ago.", -days) % {"days": -days}
    words = {0: _("Today."), 1: _("Tomorrow.")}
    told = words.get(days) or ngettext("In %(days)s day.", "In %(days)s days.", days) % {"days": days}
    if stage.final_week(staged.facts, staged.today) == one:
        told = f"{told} {say(stage.run_throughs(staged.facts, staged.today))}".strip()
    return told


def _as_goal(staged: Staged, one: PerformanceFacts, piece: str) -> str:
    """Where a piece can be set as a goal, due seven days before; "" once that day is past or the goal is there."""
    due = stage.due_day(one)
    if due < staged.today or any(goal.theory.title == piece for goal in staged.facts.active_goals):
        return ""
    query = urlencode({"kind": "piece", "title": piece, "due": due.isoformat()})
    return f"{reverse('practice:goal-set', args=[staged.student.code])}?{query}"


def _stored(request: HttpRequest, form: PerformanceForm, staged: Staged) -> HttpResponse:
    new = form.instance.pk is None
    row = form.save()
    words = {"title": row.title, "day": date_format(row.day, "l, j F Y")}
    messages.success(request, (_("Put down: %(title)s, %(day)s.") if new else _("Stored: %(title)s, %(day)s.")) % words)
    if row.day < staged.today:
        messages.info(request, _("That day is past: it is kept as a record, and no due days count back from it."))
    elif form.moved:
        messages.info(request, _("The day has moved. Look at the due days below; none has been changed."))
    return redirect("practice:performance", student=staged.student.code, performance=row.code)


def due(request: HttpRequest, student: uuid.UUID, performance: uuid.UUID) -> HttpResponse:
    """Moves the due days that were shown and ticked, POST only."""
    staged = _staged(request, student)
    row, one = _found(staged, performance)
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    found = stage.due_days(one, staged.facts, staged.states, staged.today)
    ticked = request.POST.getlist("move")
    if request.POST.get("to") != found.day.isoformat():
        messages.warning(request, _("The day of the performance has moved meanwhile. Look at the due days again."))
    elif not ticked:
        messages.info(request, _("No goal was ticked, so no due day was changed."))
    else:
        shown = [(code, request.POST.get(f"from-{code}", "")) for code in ticked]
        moved, left = move_due_days(staged.student, found, shown)
        for move in moved:
            words = {"goal": move.goal.title, "before": date_format(move.before, "j F"),
                     "after": date_format(move.after, "j F")}  # fmt: skip
            messages.success(request, _("%(goal)s is due on %(after)s, no longer on %(before)s.") % words)
        for title in left:
            messages.warning(request, _("%(goal)s was changed meanwhile and stays as it is.") % {"goal": title})
    return redirect("practice:performance", student=staged.student.code, performance=row.code)


def remove(request: HttpRequest, student: uuid.UUID, performance: uuid.UUID) -> HttpResponse:
    """Takes a performance away, POST only. Its goals stay, with their due days."""
    staged = _staged(request, student)
    row, one = _found(staged, performance)
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    row.delete()
    words = {"title": one.title, "day": date_format(one.day, "j F Y")}
    messages.success(request, _("%(title)s on %(day)s is removed. Its goals stay, with their due days.") % words)
    return redirect("practice:performances", student=staged.student.code)
