"""The root drill of one roots goal: a page that asks and marks, and the result as a practice entry.

With a script the questions run in the browser and one form sends what came of them; without one, each answer is a
form of its own, marked by the server, and nothing is timed.
"""

import datetime as dt
import random
import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from practice.display import measured_text, minutes_text
from practice.drillwork import (
    ASKS,
    Asks,
    Drill,
    choices,
    drill_of,
    mark_text,
    page_data,
    place_text,
    question_text,
    read_history,
    result_of,
    walk_text,
    write_history,
)
from practice.entry_form import FAULT_WORDS
from practice.models import Goal, PracticeEntry
from practice.record import LONGEST, OLDEST_DAYS, EntryRecord, ResultRecord, faults
from practice.store import ForeignCode, store_entry
from students.models import Student
from students.viewer import Role, open_to
from studio import theory

ASKS_WORDS = {
    "find": gettext_lazy("By fret"),
    "name": gettext_lazy("By name"),
    "guitar": gettext_lazy("On the guitar"),
}

SAME_BEGIN = dt.timedelta(minutes=5)


class RoundForm(forms.Form):
    """What a phone sends of a drill. Seconds alone: what its clock says of day and hour need not be right.

    ago: since the first question; seconds: played; took, right: of the first round over all notes, if there was one.
    """

    code = forms.UUIDField(widget=forms.HiddenInput)
    ago = forms.IntegerField(min_value=1, max_value=OLDEST_DAYS * 86400, widget=forms.HiddenInput)
    seconds = forms.IntegerField(min_value=1, max_value=LONGEST, widget=forms.HiddenInput)
    took = forms.FloatField(min_value=0.1, max_value=LONGEST, required=False, widget=forms.HiddenInput)
    right = forms.IntegerField(min_value=0, max_value=10_000, required=False, widget=forms.HiddenInput)
    asks = forms.ChoiceField(choices=list(ASKS_WORDS.items()), required=False, widget=forms.HiddenInput)
    strings = forms.ChoiceField(choices=[("all", "")], required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, now: dt.datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "ago" in data and "seconds" in data:
            # the phone's entry is true by its own clock: it is not held against sessions logged beside it
            for fault in faults(self.begun, data["seconds"], self.now, ()):
                self.add_error("seconds", FAULT_WORDS[fault])
        return data

    @property
    def begun(self) -> dt.datetime:
        return self.now - dt.timedelta(seconds=self.cleaned_data["ago"])

    def record(self, goal: Goal) -> EntryRecord:
        """The plain record of a valid form: one entry, spent on the goal, with its result if one was measured.

        One query: sent again, a drill began when it was first stored to begin, give or take what the way took.
        """
        data = self.cleaned_data
        begun = self.begun
        stored = goal.student.entries.filter(code=data["code"]).values_list("begun", flat=True).first()
        if stored is not None and abs(stored - begun) < SAME_BEGIN:
            begun = stored
        value = result_of(goal.measure, data.get("took"), data.get("right"))
        return EntryRecord(
            code=data["code"],
            begun=begun,
            seconds=data["seconds"],
            segments=((goal.code, data["seconds"]),),
            results=() if value is None else (ResultRecord(goal.code, goal.measure, value),),
        )


def roots_goal(request: HttpRequest, code: uuid.UUID) -> Goal:
    """The viewer's own roots goal of this code, or 404; one that is set aside may still be drilled."""
    return get_object_or_404(Goal.objects.visible_to(request.viewer).filter(kind=Goal.Kind.ROOTS), code=code)


def read_asks(text: object) -> Asks:
    return next((asks for asks in ASKS if asks == text), ASKS[0])


@open_to(Role.STUDENT)
@require_http_methods(["GET", "POST"])
def page(request: HttpRequest, student: uuid.UUID, roots: uuid.UUID) -> HttpResponse:
    """GET asks a question; POST marks the answer of a page without a script and asks the next."""
    goal = roots_goal(request, roots)
    data = request.POST if request.method == "POST" else request.GET
    strings = "all" if data.get("strings") == "all" else ""
    form = RoundForm(now=timezone.now(), initial={"strings": strings})
    return _draw(request, goal, read_asks(data.get("asks")), form, everywhere=bool(strings))


@open_to(Role.STUDENT)
@require_POST
def store(request: HttpRequest, student: uuid.UUID, roots: uuid.UUID) -> HttpResponse:
    """Stores a drill once, however often it is sent."""
    goal, now, row = roots_goal(request, roots), timezone.now(), request.viewer.student
    form = RoundForm(request.POST, now=now)
    if form.is_valid() and (said := _keep(row, goal, form, now)):
        messages.success(request, said)
        # the page is told which drill was stored, so that the phone lets go of exactly that one
        there = reverse("practice:s-drill", args=[row.code, goal.code])
        strings = "&strings=all" if form.cleaned_data["strings"] else ""
        stored = form.cleaned_data["code"]
        return redirect(f"{there}?asks={read_asks(form.cleaned_data['asks'])}{strings}&stored={stored}")
    everywhere = request.POST.get("strings") == "all"
    return _draw(request, goal, read_asks(request.POST.get("asks")), form, everywhere, status=422)


def _keep(student: Student, goal: Goal, form: RoundForm, now: dt.datetime) -> str:
    """The sentence to show, or "" when the form now carries an error."""
    record = form.record(goal)
    try:
        stored = store_entry(student, record, PracticeEntry.By.STUDENT, student.name, now, hand_consent=False)
    except ForeignCode:
        stored = None
    if stored is None or not stored.same:
        form.add_error(None, _("This drill was stored before with other numbers. What was stored first stands."))
        return ""
    played = minutes_text(record.seconds)
    if not record.results:
        return _("Stored: %(minutes)s of practice.") % {"minutes": played}
    value = measured_text(record.results[0].value, goal.measure)
    return _("Stored: %(value)s, and %(minutes)s of practice.") % {"value": value, "minutes": played}


def _draw(
    request: HttpRequest, goal: Goal, asks: Asks, form: RoundForm, everywhere: bool = False, status: int = 200
) -> HttpResponse:
    student = request.viewer.student
    last = goal.results.filter(measure=goal.measure).in_order().last()
    context: dict[str, Any] = {
        "student": student,
        "goal": goal,
        "title": goal.theory.title_text(student.theory_instrument()),
        "last": last,
        "form": form,
        "asks": asks,
        "everywhere": everywhere,
        # all strings come after the goal's own: once it was measured
        "strings": last is not None or everywhere,
        "modes": [(code, words, code == asks) for code, words in ASKS_WORDS.items()],
        "stored": request.GET.get("stored", ""),
    }
    try:
        drill = drill_of(goal.theory, student.theory_instrument(), asks, everywhere)
    except theory.TheoryError as error:
        return render(request, "practice/drill.html", context | {"trouble": str(error)}, status=status)
    known = last is not None
    context |= _question(request, drill, known) | {
        "groups": choices(drill),
        "data": page_data(drill, goal.measure, known),
    }
    return render(request, "practice/drill.html", context, status=status)


def _question(request: HttpRequest, drill: Drill, known: bool) -> dict[str, Any]:
    """The question to show, after the answer to the last one, if this is one, was marked."""
    sent = request.POST if "question" in request.POST else {}
    history = read_history(sent.get("history", ""), drill)
    shown = {"mark": None, "error": "", "seek": False, "walk": ""}
    question = drill.by_id.get(sent.get("question", ""))
    answer = sent.get("answer", "")
    if question is not None:
        mark = None
        try:
            mark = _marked(drill, question, answer)
        except theory.TheoryError:
            shown["error"] = _("Tap one of the answers.")
        if drill.asks == "guitar" and answer == "found":
            # the player looks at the place before saying whether the finger was there
            shown |= {"seek": True, "error": "", "walk": walk_text(drill, question)}
        elif mark is not None:
            right, said = mark
            history = (*history, theory.Answer(question.id, right))
            shown |= {"mark": {"right": right, "text": said}, "walk": "" if right else walk_text(drill, question)}
            question = None
    if question is None:
        question = theory.pick(drill.asked(history, known), history, random.random())
    return shown | {
        "question": question,
        "question_text": question_text(question, drill.asks),
        "place": place_text(question) if shown["seek"] else "",
        "history": write_history(history),
    }


def _marked(drill: Drill, question: theory.Question, answer: str) -> tuple[bool, str] | None:
    """(right, sentence), or None for "found it". Raises TheoryError for what is no answer."""
    if drill.asks != "guitar":
        mark = theory.mark(question, answer)
        return mark.right, mark_text(mark)
    if answer not in ("found", "right", "wrong"):
        raise theory.TheoryError("{answer} is no answer.", code="drill-answer", answer=answer[:40])
    return None if answer == "found" else (answer == "right", place_text(question))
