"""Recording a lesson: what became of it, the teacher's words, what was measured, and what happens to each goal."""

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from practice.acts import goal_context, taps
from practice.lesson_form import AHEAD, LessonForm
from practice.models import Goal, Result
from practice.queries import student_facts
from practice.views.today import read_day
from students.models import Student


@require_http_methods(["GET", "HEAD", "POST"])
def lesson(request: HttpRequest, student: Any) -> HttpResponse:
    """The lesson of `?day=` (today without one); the same day again edits the same lesson."""
    row = get_object_or_404(
        Student.objects.visible_to(request.viewer).select_related("studio", "teacher"), code=student
    )
    now = timezone.now()
    today = row.studio.today(now)
    day, trouble = read_day(request.GET.get("day"), today)
    if not trouble and day < row.joined:
        trouble = _("%(name)s has been with the studio since %(day)s.") % {
            "name": row.name, "day": date_format(row.joined, "j F Y")
        }
    elif not trouble and day > today + AHEAD:
        trouble = _("That day is more than four months away. Check the year.")
    if trouble:
        return render(
            request, "practice/lesson.html",
            {"nav": "today", "student": row, "day": None, "trouble": trouble, "typed": request.GET.get("day", ""),
             "today": today},
        )
    form = _form(row, day, today, now, request.POST if request.method == "POST" else None)
    if form.is_valid():
        _lesson, done = form.save(request.viewer.teacher)
        messages.success(request, _("The lesson of %(day)s is recorded.") % {"day": date_format(day, "j F")})
        for one in done:
            (messages.success if one.ok else messages.warning)(request, one.text)
        return redirect(f"{reverse('practice:today')}?day={day.isoformat()}")
    context = {
        "nav": "today",
        "student": row,
        "day": day,
        "today": today,
        "form": form,
        "parts": form.goal_parts(),
        "recorded": form.lesson,
        "next": row.next_lesson(max(day, today)),
    }
    return render(request, "practice/lesson.html", context)


def _form(student: Student, day: dt.date, today: dt.date, now: dt.datetime, data: Any) -> LessonForm:
    found = student.lessons.on(day).first()
    checks = list(Result.objects.filter(lesson=found)) if found else []
    checked = {check.goal_id for check in checks}
    rows: list[Goal] = [
        goal for goal in student.goals.in_order() if goal.set_aside_at is None or goal.pk in checked
    ]
    facts = student_facts(student, today)
    by_code = {goal.code: goal for goal in facts.goals}
    context = goal_context(facts, today)
    after = max(day, today)
    for goal in rows:
        goal.student = student
    goals = [(goal, taps(by_code[str(goal.code)], facts, after, context)) for goal in rows]
    return LessonForm(data, student=student, day=day, now=now, lesson=found, goals=goals, checks=checks)
