"""The family's pages: one plain summary of a week, and a form to log for a child."""

import datetime as dt
import uuid
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from practice import summary
from practice.asked import asked_of_weeks
from practice.chart_draw import Chart
from practice.entry_form import EntryForm
from practice.facts import StudentFacts
from practice.handanswer import FAMILY as FAMILY_VOICE
from practice.handreturn import under_way
from practice.logwork import entry_form, log_entry
from practice.models import PracticeEntry
from practice.queries import student_facts
from practice.store import tell_teacher
from practice.views.hand_answer import FAMILY, answered, beside_questions, warned
from students.models import Student
from students.viewer import Role, open_to


def child_of(request: HttpRequest, code: uuid.UUID) -> Student:
    """The guardian's own child of this code, on the roster, or 404."""
    children = Student.objects.visible_to(request.viewer).current().select_related("studio", "teacher")
    return get_object_or_404(children, code=code)


def asked_week(request: HttpRequest, student: Student, today: dt.date) -> dt.date:
    """First day of the week that `?week=` names, at latest this one; without it the last finished week, or this
    one from its sixth day on and for a student who joined in it. 404 for a text that is no day."""
    this_week = student.studio.week_of(today)
    text = request.GET.get("week")
    if text is None:
        fresh = (today - this_week).days >= 5 or student.joined >= this_week
        return this_week if fresh else this_week - dt.timedelta(days=7)
    try:
        asked = min(student.studio.week_of(dt.date.fromisoformat(text)), this_week)
    except (ValueError, OverflowError):
        raise Http404 from None
    return max(asked, student.studio.week_of(student.joined))


def family_facts(child: Student, today: dt.date) -> StudentFacts:
    """What a guardian may be told. An adult's own consent does not reach the guardians: of an adult, no hand value."""
    facts = student_facts(child, today)
    return facts if facts.minor else replace(facts, hand_consent=False, notes=(), hand_return=None)


def family_form(child: Student, now: dt.datetime, data: Any = None) -> EntryForm:
    """The form to log for a child; for an adult it asks nothing about the hand."""
    form = entry_form(child, now, data, voice=FAMILY_VOICE)
    if not child.is_minor(child.studio.today(now)):
        form.leave_hand_out()
    return form


@open_to(Role.GUARDIAN)
@require_GET
def week(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    child = child_of(request, student)
    today = child.studio.today(timezone.now())
    shown = asked_week(request, child, today)
    facts = family_facts(child, today)
    this_week = child.studio.week_of(today)
    return render(
        request,
        "practice/family_week.html",
        {
            "child": child,
            "minor": facts.minor,
            "children": Student.objects.visible_to(request.viewer).current(),
            "week": summary.compose(facts, shown, today),
            "shown": shown,
            "running": shown == this_week,
            "earlier": shown - dt.timedelta(days=7) if shown > child.studio.week_of(child.joined) else None,
            "later": shown + dt.timedelta(days=7) if shown < this_week else None,
            "tell_code": uuid.uuid4(),
        },
    )


def minutes_figure(facts: StudentFacts, shown: dt.date, today: dt.date) -> Chart:
    """Minutes of the eight weeks up to the one that begins on `shown`; without the plan's line while a return holds."""
    from practice import charts, progress

    last = min(today, shown + dt.timedelta(days=6))
    weeks = progress.weekly_minutes(facts.entries, last, weeks=8, week_start=facts.week_start)
    # an earlier week is looked back at, not "so far"
    weeks = [replace(week, finished=week.start + progress.WEEK <= today) for week in weeks]
    plan = 0 if under_way(facts, last) else facts.plan_week
    asked = asked_of_weeks(facts, [week.start for week in weeks], today)
    return charts.minutes_by_week(weeks, plan, facts.joined, asked=asked)


@open_to(Role.GUARDIAN)
@require_GET
def chart(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """The figure of the week's page, fetched beside it so that the words never wait for the drawing."""
    child = child_of(request, student)
    today = child.studio.today(timezone.now())
    shown = asked_week(request, child, today)
    drawn = minutes_figure(family_facts(child, today), shown, today)
    whole = "fragment" not in request.GET
    return render(
        request,
        "practice/family_chart.html" if whole else "practice/_chart.html",
        {"child": child, "chart": drawn},
    )


@open_to(Role.GUARDIAN)
@require_http_methods(["GET", "POST"])
def log(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """A parent logs for the child; the entry says so."""
    child = child_of(request, student)
    now = timezone.now()
    form = family_form(child, now, request.POST if request.method == "POST" else None)
    if form.is_valid() and (
        logged := log_entry(child, form, PracticeEntry.By.PARENT, request.viewer.name, now)
    ):
        return answered(request, FAMILY, child, logged, now)
    return render(
        request,
        "practice/family_log.html",
        beside_questions(FAMILY, child, form.asks_hand, now)
        | {
            "child": child,
            "form": form,
            "parts": form.goal_parts(),
            "tell_code": uuid.uuid4(),
            "warned": warned(form, FAMILY, child, now),
            "may_ask": child.is_minor(child.studio.today(now)),
        },
    )


@open_to(Role.GUARDIAN)
@require_POST
def tell(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    child = child_of(request, student)
    tell_teacher(child, request.POST.get("code"), PracticeEntry.By.PARENT, timezone.now())
    messages.success(
        request, _("The teacher will see that you want a word about the hand. Rest it until then.")
    )
    return redirect("practice:f-week", student=child.code)
