"""The root drill of one roots goal: a page that asks and marks.

With a script the questions run in the browser and what came of them is an entry of the phone's queue (views/sync.py);
without one, each answer is a form of its own, marked by the server, and nothing is timed.
"""

import datetime as dt
import random
import uuid
from typing import Any

from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from practice.attention import nothing_played
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
    walk_text,
    write_history,
)
from practice.models import Goal
from practice.queries import MAY_STOP
from practice.summary import HALF_YEAR
from students.models import Student
from students.viewer import Role, open_to
from studio import theory

GUITAR = "guitar"
ASKS_WORDS = {
    "find": gettext_lazy("By fret"),
    "name": gettext_lazy("By name"),
    GUITAR: gettext_lazy("On the guitar"),
}


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
    return _draw(request, goal, read_asks(data.get("asks")), everywhere=data.get("strings") == "all")


def _draw(request: HttpRequest, goal: Goal, asks: Asks, everywhere: bool = False) -> HttpResponse:
    student = request.viewer.student
    today = student.studio.today(timezone.now())
    # while nothing is played the guitar waits, and the notes are found on the drawn neck alone
    modes = [code for code in ASKS_WORDS if code != GUITAR or not _nothing_played(student, today)]
    asks = asks if asks in modes else ASKS[0]
    last = goal.results.filter(measure=goal.measure).in_order().last()
    context: dict[str, Any] = {
        "student": student,
        "goal": goal,
        "title": goal.theory.title_text(student.theory_instrument()),
        "last": last,
        "asks": asks,
        "everywhere": everywhere,
        # all strings come after the goal's own: once it was measured
        "strings": last is not None or everywhere,
        "modes": [(code, ASKS_WORDS[code], code == asks) for code in modes],
    }
    try:
        drill = drill_of(goal.theory, student.theory_instrument(), asks, everywhere)
    except theory.TheoryError as error:
        return render(request, "practice/drill.html", context | {"trouble": str(error)})
    known = last is not None
    context |= _question(request, drill, known) | {
        "groups": choices(drill),
        "data": page_data(drill, goal.measure, known),
    }
    return render(request, "practice/drill.html", context)


def _nothing_played(student: Student, today: dt.date) -> bool:
    """Whether the hand lets nothing be played today. Three queries under a consent."""
    if not student.may_keep_hand_values(today):
        return False
    notes = student.hand_notes.filter(Q(day__gte=today - HALF_YEAR) | MAY_STOP).order_by("at", "pk")
    step = student.hand_returns.filter(ended_on__isnull=True).values_list("level_since", flat=True).first()
    return nothing_played([note.facts for note in notes], step, today)


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
