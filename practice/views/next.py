"""What could come next: the suggestions with their reasons, one tap to decline one, and the teacher's own order."""

import datetime as dt
import uuid
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from practice import suggest
from practice.acts import goal_context, signature
from practice.facts import StudentFacts
from practice.findings import finding_text
from practice.goal_terms import fields_of, goal_query
from practice.goalwork import due_after
from practice.models import Declined, Song
from practice.next_form import DeclineForm, OrderForm
from practice.queries import student_facts
from practice.suggest_words import OF_HAND
from practice.words import say
from students.models import Student
from studio import theory

# Entries and hand notes that the guards read; goals and their measurements always.
SPAN = dt.timedelta(weeks=26)

# What the terms of a suggestion's score mean, by their code in practice.suggest.
TERM_WORDS = {
    "key": gettext_lazy("asked for by goals and keys in hand"),
    "step": gettext_lazy("its turn in the teaching order, or its review"),
    "songs": gettext_lazy("what it opens in the song book"),
    "ease": gettext_lazy("what it asks of the hand"),
    "grip": gettext_lazy("heavier than anything secure"),
    "change": gettext_lazy("the easiest change from what is known"),
    "care": gettext_lazy("cautions when it is set"),
}


@dataclass(frozen=True)
class DeclinedRow:
    """A refusal that still holds, for the template."""

    row: Declined
    title: str
    until: dt.date


def _student(request: HttpRequest, code: Any) -> Student:
    seen = Student.objects.visible_to(request.viewer).select_related("studio", "teacher")
    return get_object_or_404(seen, code=code)


@require_safe
def next_chords(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """Three chords that could come next, with reasons: a part of the student's page, or a page of its own."""
    return _page(request, _student(request, student))


def _page(request: HttpRequest, row: Student, wrong: DeclineForm | None = None) -> HttpResponse:
    today = row.studio.today(timezone.now())
    facts = student_facts(row, today, since=today - SPAN)
    setter = reverse("practice:goal-set", args=[row.code])
    known = goal_context(facts, today)
    word = suggest.word(facts, today)
    of_hand = word is not None and word.code in OF_HAND
    songs = [song.facts for song in Song.objects.visible_to(request.viewer).played_by(row)]
    refusals = list(
        Declined.objects.visible_to(request.viewer).filter(student=row, day__gt=today - suggest.SET_ASIDE_FOR)
    )
    found = suggest.next_chords(
        facts, today, songs=songs, declined=[one.refusal for one in refusals], order=row.teacher.teaching_order
    )
    context = {
        "nav": "roster",
        "student": row,
        "word": "" if of_hand else say(word),
        "hand_word": say(word) if of_hand else "",
        "suggestions": [_shown(one, facts, known, today, setter, wrong, n) for n, one in enumerate(found)],
        "declined": [_declined(one, facts.instrument) for one in refusals],
        # "later" has a button of its own, one tap away, and another reason wants words
        "reasons": [(reason.value, reason.label) for reason in (Declined.Reason.HARD, Declined.Reason.KNOWN)],
        "own_order": bool(suggest.steps_of(row.teacher.teaching_order)),
        "may_order": row.teacher_id == request.viewer.teacher.pk,
        "wrong": wrong,
    }
    response = render(request, "practice/_next.html" if request.htmx else "practice/next.html", context)
    patch_vary_headers(response, ["HX-Request"])
    return response


def _points(value: float) -> str:
    return number_format(round(value, 1) + 0.0, 1)


def _shown(
    one: suggest.Suggestion,
    facts: StudentFacts,
    known: theory.Context,
    today: dt.date,
    setter: str,
    wrong: DeclineForm | None,
    number: int,
) -> dict[str, Any]:
    """A suggestion for the template: reasons, cautions and terms in words, what one tap sends to set it (the cautions
    stand on the page, so they count as shown), and the address that fills the form with it."""
    findings = theory.validate(one.goal, facts.instrument, facts.hand, known)
    due = due_after(today, facts.next_lesson)
    sent = fields_of(one.goal) | {"measure": one.measure, "target": f"{one.target:g}", "due": due.isoformat()}
    mine = wrong is not None and wrong["candidate"].value() == one.code
    return {
        "code": one.code,
        "title": one.title,
        "voicing": one.voicing,
        "set": [*sent.items(), *(("shown", signature(finding)) for finding in findings)],
        "due": due,
        "url": f"{setter}?{goal_query(one.goal, measure=one.measure, target=f'{one.target:g}')}",
        "reasons": [say(reason) for reason in one.reasons],
        "cautions": [finding_text(finding) for finding in findings],
        "terms": [(TERM_WORDS.get(code, code), _points(points)) for code, points in one.terms.items()],
        "score": _points(one.score),
        "form": wrong if mine else DeclineForm(auto_id=f"decline-{number}-%s"),
    }


def _declined(row: Declined, instrument: theory.Instrument) -> DeclinedRow:
    return DeclinedRow(row, candidate_title(row.candidate, instrument), row.refusal.until)


def candidate_title(candidate: str, instrument: theory.Instrument) -> str:
    """A suggestion's code as its title on this instrument ("Bm, A-shape at 2"), or the code itself."""
    shape, _sep, root = candidate.partition("@")
    try:
        if shape == "roots":
            return theory.Goal("roots", string=int(root)).title_text(instrument)
        return theory.place(shape, root, instrument).title
    except (theory.TheoryError, ValueError):
        return candidate


def decline(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """Declines one suggestion with a reason, POST only; for four weeks it is not made again."""
    row = _student(request, student)
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    now = timezone.now()
    today = row.studio.today(now)
    form = DeclineForm(request.POST, auto_id="declined-%s")
    if not form.is_valid():
        return _page(request, row, form)
    data = form.cleaned_data
    # sent twice, it is stored once
    Declined.objects.get_or_create(
        student=row, candidate=data["candidate"], day=today,
        defaults={"reason": data["reason"], "words": data["words"], "at": now, "by": request.viewer.teacher},
    )  # fmt: skip
    if request.htmx:
        return _page(request, row)
    title = candidate_title(data["candidate"], row.theory_instrument())
    until = date_format(suggest.Refusal(data["candidate"], today).until, "j F")
    messages.success(request, _("Declined until %(day)s: %(title)s.") % {"title": title, "day": until})
    return redirect("practice:next-chords", student=row.code)


def take_back(request: HttpRequest, student: uuid.UUID, declined: uuid.UUID) -> HttpResponse:
    """Undoes a refusal, POST only: the suggestion may be made again."""
    row = _student(request, student)
    refusal = get_object_or_404(Declined.objects.visible_to(request.viewer).filter(student=row), code=declined)
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    refusal.delete()
    if request.htmx:
        return _page(request, row)
    title = candidate_title(refusal.candidate, row.theory_instrument())
    messages.success(request, _("%(title)s may be suggested again.") % {"title": title})
    return redirect("practice:next-chords", student=row.code)


@require_http_methods(["GET", "HEAD", "POST"])
def teaching_order(request: HttpRequest) -> HttpResponse:
    """The signed-in teacher's own order of the steps; numbers or buttons, whichever is at hand."""
    teacher = request.viewer.teacher
    if request.method != "POST":
        return _order_page(request, OrderForm(order=teacher.teaching_order))
    form = OrderForm(request.POST, order=teacher.teaching_order)
    if "usual" in request.POST:
        order: tuple[str, ...] = ()
    elif form.is_valid():
        order = form.moved(request.POST.get("up", ""), request.POST.get("down", ""))
    else:
        return _order_page(request, form)
    teacher.teaching_order = list(order)
    teacher.save(update_fields=["teaching_order"])
    own = _("Stored: suggestions follow your own order.")
    messages.success(request, own if order else _("Stored: suggestions follow the usual order."))
    return redirect("practice:teaching-order")


def _order_page(request: HttpRequest, form: OrderForm) -> HttpResponse:
    own = bool(suggest.steps_of(request.viewer.teacher.teaching_order))
    return render(request, "practice/teaching_order.html", {"nav": "songs", "form": form, "own": own})
