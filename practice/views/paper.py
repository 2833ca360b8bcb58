"""The printed practice sheet, and the page that takes a week of it: the teacher's, and a parent's on /f/."""

import datetime as dt
import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from practice.dayplan import day_plan
from practice.facts import StudentFacts
from practice.handday import HandDay
from practice.paper import WEEK, PaperForm, first_week, goals_of_week, kept_near, store_week, usual_week
from practice.queries import student_facts
from practice.said import Said, said
from practice.views.family import child_of, family_facts
from practice.words import say
from students.models import Student
from students.viewer import Role, open_to
from students.views.people import FORM, READ, of_student

# So many goals, each with its row of boxes and its diagrams, fit one page of A4.
MOST_ON_SHEET = 10


def asked_week(request: HttpRequest, student: Student, usual: dt.date, first: dt.date, last: dt.date) -> dt.date:
    """First day of the week that `?week=` names, from the week `first` to `last`; `usual` without it. 404 for a text
    that is no day."""
    text = request.GET.get("week")
    if text is None:
        return usual
    try:
        asked = student.studio.week_of(dt.date.fromisoformat(text))
    except (ValueError, OverflowError):
        raise Http404 from None
    return max(min(asked, last), first)


def _paper(request: HttpRequest, student: Student, name: str, template: str, focus: bool) -> HttpResponse:
    now = timezone.now()
    today = student.studio.today(now)
    last = student.studio.week_of(today)
    first = min(first_week(student, today), last)
    week = asked_week(request, student, usual_week(student, today), first, last)
    form = PaperForm(
        request.POST if request.method == "POST" else None,
        student=student,
        week=week,
        goals=goals_of_week(student, week),
        kept=kept_near(student, week),
        now=now,
        focus=focus,
    )
    address = reverse(name, args=[student.code])
    if form.is_valid() and (said := store_week(student, form, request.viewer.name, now)):
        messages.success(request, said)
        return redirect(f"{address}?week={week}")
    boxes = form.boxes()
    context: dict[str, Any] = {
        "student": student,
        "form": form,
        "boxes": boxes,
        "has_already": any(box.already for box in boxes),
        "lines": form.goal_lines(),
        "split": form.split_typed(),
        "week": week,
        "last_day": week + WEEK - dt.timedelta(days=1),
        "earlier": week - WEEK if week > first else None,
        "later": week + WEEK if week < last else None,
        "action": f"{address}?week={week}",
        "nav": "roster",
    }
    return render(request, template, context)


@of_student(*FORM)
def paper(request: HttpRequest, student: Student) -> HttpResponse:
    """The teacher copies the sheet that was brought to the lesson."""
    return _paper(request, student, "practice:paper", "practice/paper.html", focus=True)


@open_to(Role.GUARDIAN)
@require_http_methods(FORM)
def family_paper(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """A parent copies it; the entries say so."""
    return _paper(request, child_of(request, student), "practice:f-paper", "practice/family_paper.html", focus=False)


def stopped_words(hand: HandDay) -> Said | None:
    """What a sheet says in place of minutes and goals while nothing is played, None else. A return's own words stand
    beside it."""
    if not hand.stop or hand.step is not None:
        return None
    return said("advice-stop-until-seen" if hand.advice is not None and hand.advice.until_seen else "day-stop")


def _sheet(request: HttpRequest, student: Student, today: dt.date, facts: StudentFacts, template: str) -> HttpResponse:
    this_week = student.studio.week_of(today)
    # the sheet that is handed out in a lesson late in the week is for the next one
    usual = this_week if (today - this_week).days < 4 else this_week + WEEK
    week = asked_week(request, student, usual, this_week - 4 * WEEK, this_week + 4 * WEEK)
    day = day_plan(facts, today)
    context = {
        "student": student,
        "bend": day.hand,
        "stopped": say(stopped_words(day.hand)),
        "resting": [one.goal.title for one in day.resting],
        "waiting": [one.goal.title for one in day.waiting],
        "cards": day.cards[:MOST_ON_SHEET],
        "more": max(0, len(day.cards) - MOST_ON_SHEET),
        "days": [week + dt.timedelta(days=n) for n in range(7)],
        "week": week,
        "plan": day.plan,
        "most": day.most,
        "next_lesson": facts.next_lesson,
        "earlier": week - WEEK,
        "later": week + WEEK,
        "nav": "roster",
    }
    return render(request, template, context)


@of_student(*READ)
def sheet(request: HttpRequest, student: Student) -> HttpResponse:
    """One page to print and take home: the goals with their diagrams, and seven boxes in one row."""
    today = student.studio.today(timezone.now())
    return _sheet(request, student, today, student_facts(student, today), "practice/sheet.html")


@open_to(Role.GUARDIAN)
@require_GET
def family_sheet(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    child = child_of(request, student)
    today = child.studio.today(timezone.now())
    return _sheet(request, child, today, family_facts(child, today), "practice/family_sheet.html")
