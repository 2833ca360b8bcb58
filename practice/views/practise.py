"""The student's own page: what to do this week, a timer, and the form that logs a session."""

import datetime as dt
import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from practice import progress, stage
from practice.asked import asked_of_week
from practice.dayplan import day_plan
from practice.entry_form import EntryForm
from practice.hand_note_form import HandAskForm
from practice.handshown import offers_of
from practice.logwork import TOLD_TEACHER, entry_form, log_entry
from practice.models import PracticeEntry
from practice.queries import student_facts
from practice.sound import open_strings
from practice.store import tell_teacher
from practice.views.hand_answer import STUDENT, answered, beside_questions, shown_of_day, warned
from students.models import Student
from students.viewer import Role, open_to

# How far back the page reads: as far as the teacher's, so that both give the same answer about the hand.
SPAN = dt.timedelta(weeks=26)

# Minutes of playing after which the timer speaks of a rest. Klickstein, The Musician's Way (2009): 25 minutes, then 5
# of rest; for children under ten 10 (common practice, no source).
BREAK, BREAK_UNDER_TEN = 25, 10


def usual_break(age: int | None) -> int:
    return BREAK_UNDER_TEN if (age or 10) < 10 else BREAK


@open_to(Role.STUDENT)
@require_GET
def page(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    now = timezone.now()
    return _draw(request, request.viewer.student, entry_form(request.viewer.student, now), now)


@open_to(Role.STUDENT)
@require_POST
def log(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    now = timezone.now()
    row = request.viewer.student
    form = entry_form(row, now, request.POST)
    if form.is_valid() and (logged := log_entry(row, form, PracticeEntry.By.STUDENT, row.name, now)):
        back = reverse("practice:s-page", args=[row.code])
        if logged.seconds:
            # the page is told which form was stored, so that the timer lets go of exactly that session
            back += f"?logged={form.cleaned_data['code']}"
        return answered(request, STUDENT, row, logged, now, back)
    return _draw(request, row, form, now)


@open_to(Role.STUDENT)
@require_POST
def tell(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    row = request.viewer.student
    tell_teacher(row, request.POST.get("code"), PracticeEntry.By.STUDENT, timezone.now())
    messages.success(request, TOLD_TEACHER)
    return redirect("practice:s-page", student=row.code)


def _draw(request: HttpRequest, student: Student, form: EntryForm, now: dt.datetime) -> HttpResponse:
    today = student.studio.today(now)
    facts = student_facts(student, today, since=today - SPAN)
    day = day_plan(facts, today)
    hand = beside_questions(STUDENT, student, form.asks_hand, now, facts)
    shown_answer = shown_of_day(STUDENT, student, facts, day.hand, today)
    parts = {str(part.goal.code): part for part in form.goal_parts()}
    shown = (*day.cards, *day.resting, *day.waiting)
    for one in shown:
        parts[one.goal.code].first = one.first_today
    week = student.studio.week_of(today)
    return render(
        request,
        "practice/practise.html",
        hand
        | {
            "student": student,
            "form": form,
            # without a consent the same questions, for the answer alone
            "ask_form": None if form.asks_hand else HandAskForm(student=student, now=now, voice=hand["voice"]),
            "warned": warned(form, STUDENT, student, now),
            "day": day,
            "shown": shown_answer,
            "answer": shown_answer and shown_answer.answer,
            "parts": [parts[one.goal.code] for one in shown],
            "strings": open_strings(facts.instrument),
            "capo": facts.instrument.capo,
            "today": today,
            "offers": offers_of(facts, today, STUDENT.drill(student)),
            "stage": stage.for_student(facts, today, day.most, hand_first=day.hand.gently or day.hand.stop),
            "roots": any(one.goal.kind == "roots" for one in day.cards),
            "week_minutes": progress.minutes_between(facts.entries, week, week + dt.timedelta(days=7)),
            "week_days": progress.days_practised(facts.entries, week),
            "asked": asked_of_week(facts, week, today),
            "minor": facts.minor,
            "break_after": day.hand.step.play_minutes if day.hand.step else usual_break(student.age(today)),
            "tell_code": uuid.uuid4(),
            "logged": request.GET.get("logged", ""),
        },
    )
