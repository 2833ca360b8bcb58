"""Setting a goal, looking at it while it is being made, and the one-tap actions on the goals there are."""

import datetime as dt
import uuid
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from practice import acts
from practice.acts import goal_context, set_goal, taps
from practice.facts import StudentFacts
from practice.goal_form import (
    PROGRESSIONS,
    GoalForm,
    key_names,
    new_kind,
    prefilled,
    typed_fields,
)
from practice.goal_look import look_at
from practice.goal_terms import FIELDS, goal_query
from practice.goalwork import due_after, into_change
from practice.hand_forms import ReasonForm
from practice.handday import holds_barres
from practice.models import Goal
from practice.queries import student_facts
from students.models import Student
from studio import theory

SHARED = ("measure", "target", "start_value", "due", "words", "hand_reason", "offered")
# Entries and hand notes that the checks read.
SPAN = dt.timedelta(weeks=26)


@dataclass(frozen=True)
class Setting:
    """What setting a goal for one student reads."""

    student: Student
    facts: StudentFacts
    context: theory.Context
    now: dt.datetime
    today: dt.date

    @property
    def due(self) -> dt.date:
        return due_after(self.today, self.facts.next_lesson)

    @property
    def known(self) -> tuple[theory.ChordTerm, ...]:
        """The chords of the student's chord goals and changes, those of goals set aside too."""
        return tuple(term for goal in self.facts.goals for term in goal.theory.chords)

    def form(self, kind: str, data: Any = None, initial: Any = None) -> GoalForm:
        return GoalForm(
            data, kind=kind, instrument=self.facts.instrument, hand=self.facts.hand, context=self.context,
            today=self.today, initial=initial, hand_pause=holds_barres(self.facts, self.today),
        )


def _setting(request: HttpRequest, code: Any) -> Setting:
    student = get_object_or_404(
        Student.objects.visible_to(request.viewer).select_related("studio", "teacher"), code=code
    )
    now = timezone.now()
    today = student.studio.today(now)
    facts = student_facts(student, today, since=today - SPAN)
    return Setting(student, facts, goal_context(facts, today), now, today)


@require_http_methods(["GET", "HEAD", "POST"])
def goal_set(request: HttpRequest, student: Any) -> HttpResponse:
    """GET fills the form from the address; POST sets the goal, or with `look` only shows what it would be."""
    setting = _setting(request, student)
    if request.method == "POST" and "look" not in request.POST:
        return _set(request, setting)
    query = _prefill(request.POST if request.method == "POST" else request.GET, setting)
    kind = new_kind(query.get("kind"))
    form, look = _looked(setting, kind, query)
    return _page(request, setting, kind, form, look)


def preview(request: HttpRequest, student: Any) -> HttpResponse:
    """What the typed goal would be: diagram, fret, notes and findings, as a fragment of the set-goal page. Stores
    nothing; by POST, so that a reason that names the hand stands in no address and no server's log."""
    setting = _setting(request, student)
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    kind = new_kind(request.POST.get("kind"))
    form, look = _looked(setting, kind, request.POST)
    moved = request.POST.get("target", "") != str(form.initial.get("target", ""))
    context = {"student": setting.student, "form": form, "look": look, "kind": kind, "retarget": moved}
    return render(request, "practice/_goal_preview.html", context)


def _looked(setting: Setting, kind: str, query: QueryDict) -> tuple[GoalForm, Any]:
    """An unbound form filled from the address, and what its goal looks like."""
    typed = typed_fields(query, (*FIELDS[kind], *SHARED))
    tried = setting.form(kind, data=query)
    tried.is_valid()
    fields = prefilled(kind, typed, tried.goal, setting.facts.instrument, setting.due)
    form = setting.form(kind, initial=fields)
    return form, look_at(tried, setting.student, {**fields, "kind": kind}, setting.known)


def _prefill(query: QueryDict, setting: Setting) -> QueryDict:
    """The address with `from=<goal>` replaced by that goal's terms; what else stands in it wins."""
    code = query.get("from")
    if not code:
        return query
    goal = next((goal for goal in setting.facts.goals if goal.code == code), None)
    if goal is None:
        raise Http404
    terms = goal.theory
    if query.get("kind") == "change" and goal.kind == "chord":
        others = [other.theory for other in setting.facts.goals if other.code != code]
        terms = into_change(terms, others, setting.facts.instrument) or terms.with_(kind="change")
    filled = QueryDict(goal_query(terms), mutable=True)
    for name, values in query.lists():
        if name != "from":
            filled.setlist(name, values)
    return filled


def _set(request: HttpRequest, setting: Setting) -> HttpResponse:
    kind = new_kind(request.POST.get("kind"))
    form = setting.form(kind, data=request.POST)
    shown = request.POST.getlist("shown")
    if form.is_valid() and not form.unseen_cautions(shown):
        data = form.cleaned_data
        goal = set_goal(
            setting.student, form.goal, measure=data["measure"], target=data["target"],
            start_value=data["start_value"], due=data["due"], words=data["words"].strip(),
            day=setting.today, now=setting.now, teacher=request.viewer.teacher, acknowledged=form.acknowledged,
            hand_reason=data.get("hand_reason", "").strip(),
        )
        words = {"goal": goal.title, "day": date_format(goal.due, "l, j F")}
        messages.success(request, _("Set: %(goal)s, due on %(day)s.") % words)
        return redirect("practice:student", student=setting.student.code)
    typed = typed_fields(request.POST, (*FIELDS[kind], *SHARED))
    look = look_at(form, setting.student, {**typed, "kind": kind}, setting.known)
    return _page(request, setting, kind, form, look, ask_again=form.is_valid())


def _page(
    request: HttpRequest, setting: Setting, kind: str, form: GoalForm, look: Any, ask_again: bool = False
) -> HttpResponse:
    offered = form.initial.get("offered", "") if not form.is_bound else request.POST.get("offered", "")
    context = {
        "nav": "roster",
        "student": setting.student,
        "kind": kind,
        "kinds": Goal.Kind.choices,
        "form": form,
        "look": look,
        "offered": offered,
        "ask_again": ask_again,
        "roots": sorted({str(key.tonic) for key in theory.KEYS}),
        "keys": key_names(),
        "progressions": PROGRESSIONS,
    }
    return render(request, "practice/goal_set.html", context)


def act(request: HttpRequest, student: Any, goal: uuid.UUID) -> HttpResponse:
    """One action on one goal, POST only; what needs a form of its own leads there, filled."""
    setting = _setting(request, student)
    row = get_object_or_404(Goal.objects.filter(student=setting.student), code=goal)
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    row.student = setting.student
    action = request.POST.get("action", "")
    home = redirect("practice:student", student=setting.student.code)
    if action not in acts.ACTIONS:
        messages.error(request, _("Choose what should happen to the goal."))
        return home
    setter = reverse("practice:goal-set", args=[setting.student.code])
    if action == "into-change":
        return _into_change(request, row, setting, setter)
    found = next(goal for goal in setting.facts.goals if goal.code == str(row.code))
    tap = taps(found, setting.facts, setting.today, setting.context)
    if action == "next-root" and tap.next_goal is not None and (tap.next_cautions or tap.needs_reason):
        # a caution is shown before anything is set
        return redirect(f"{setter}?{goal_query(tap.next_goal, measure=row.measure)}")
    reason = ""
    if action == "take-back" and tap.back_needs_reason:
        # the first tap brings the question, the second its answer
        form = ReasonForm(request.POST if "hand_reason" in request.POST else None)
        if not form.is_valid():
            context = {"nav": "roster", "student": setting.student, "goal": row, "form": form}
            return render(request, "practice/hand_reason.html", context)
        reason = form.cleaned_data["hand_reason"].strip()
    done = acts.act(
        row, action, tap, day=setting.today, now=setting.now, teacher=request.viewer.teacher,
        seen=_number(request.POST.get("seen")), hand_reason=reason,
    )
    (messages.success if done.ok else messages.warning)(request, done.text)
    return home


def _into_change(request: HttpRequest, row: Goal, setting: Setting, setter: str) -> HttpResponse:
    if row.kind != Goal.Kind.CHORD:
        messages.warning(request, _("Only a chord can be put in a change."))
        return redirect("practice:student", student=setting.student.code)
    others = [goal.theory for goal in setting.facts.goals if goal.code != str(row.code)]
    change = into_change(row.theory, others, setting.facts.instrument)
    if change is None:
        messages.info(request, _("Choose the chord to change to."))
        change = row.theory.with_(kind="change")
    return redirect(f"{setter}?{goal_query(change)}")


def _number(text: str | None) -> float | None:
    try:
        return float(text) if text else None
    except ValueError:
        return None

