"""What the pages share on which a hand is answered: whose pages they are, what stands beside the questions, and the
answer as it is shown first and alone."""

import datetime as dt
import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from practice import handrows
from practice.entry_form import minutes_words
from practice.facts import StudentFacts
from practice.hand_acts import SPAN
from practice.hand_note_form import HandQuestions
from practice.handanswer import FAMILY as FAMILY_VOICE
from practice.handanswer import Answer, Reader, voice_of
from practice.handday import HandDay, hand_day
from practice.handshown import (
    NOT_KEPT,
    Shown,
    answer_alone,
    answer_of_day,
    next_steps,
    on_the_phone,
    rests_of,
    rules_beside,
)
from practice.handtold import told_of
from practice.logwork import NOTE_KEPT, Logged
from practice.mailing import hear_after_commit
from practice.models import HandNote, PracticeEntry
from practice.queries import student_facts
from practice.record import HandRecord
from practice.store import may_take_back
from students.models import Student

NOTHING_ASKED = gettext_lazy("Nothing you answered asks for anything. Nothing was kept or sent.")
NOTHING_TODAY = gettext_lazy("No note about the hand asks for anything today.")


@dataclass(frozen=True)
class Side:
    """Whose pages. by: who answers, as it is stored; base: the template around them; home, hand, ask, answer, back and
    tell: names of addresses, "" for what this side has not."""

    by: str
    base: str
    home: str
    hand: str
    ask: str
    answer: str = ""
    back: str = ""
    tell: str = ""
    own: bool = False

    def address(self, name: str, student: Student, *more: Any) -> str:
        named = getattr(self, name)
        return reverse(f"practice:{named}", args=[student.code, *more]) if named else ""

    def drill(self, student: Student) -> Callable[[str], str] | None:
        """From a roots goal to its drill, which is the student's own page."""
        return (lambda goal: reverse("practice:s-drill", args=[student.code, goal])) if self.own else None

    def reader(self, student: Student, today: dt.date) -> Reader:
        voice = voice_of(student.age(today), student.is_minor(today)) if self.own else FAMILY_VOICE
        return Reader(voice, student.first_name, student.teacher.name)


By = PracticeEntry.By
STUDENT = Side(
    By.STUDENT, "base_phone.html", "s-page", "s-hand", "s-hand-ask", "s-hand-answer", "s-hand-back", "s-tell", own=True
)
FAMILY = Side(By.PARENT, "base_phone.html", "f-week", "f-hand", "f-hand-ask", "f-hand-answer", "f-hand-back", "f-tell")
TEACHER = Side(By.TEACHER, "base_teacher.html", "hand-notes", "hand-note-add", "hand-note-add")


def beside_questions(
    side: Side, student: Student, consent: bool, now: dt.datetime, facts: StudentFacts | None = None
) -> dict[str, Any]:
    """What stands beside the questions on every page that asks them: the rules, the answers that must not wait for a
    server, and in whose words. facts: where the page has them, for music that rests the hand. No query."""
    today = student.studio.today(now)
    reader = side.reader(student, today)
    return {
        "drawn": now.timestamp(),
        "reader": reader,
        "voice": reader.voice,
        "consent": consent,
        "may_ask": True,
        "rules": handrows.as_data(),
        "rules_more": rules_beside(),
        "device": on_the_phone(reader, consent, facts, today, side.drill(student)),
    }


def warned(form: HandQuestions, side: Side, student: Student, now: dt.datetime) -> Answer | None:
    """What a form calls for that came back with errors: help waits for no missing place."""
    given = form.hand_so_far() if form.is_bound and form.errors else None
    if given is None:
        return None
    today = student.studio.today(now)
    answer = answer_alone(given, now, today, side.reader(student, today))
    return answer if answer is not None and answer.advice.ask_person else None


def shown_of_day(side: Side, student: Student, facts: StudentFacts, day: HandDay, today: dt.date) -> Shown | None:
    """The day's answer as it is shown; None where there is none. One query where a person is asked for."""
    reader = side.reader(student, today)
    answer = answer_of_day(day, reader)
    if answer is None:
        return None
    # what was written is the notes' answer, also where a return's step makes it stricter
    told = told_of(student, day.advice.strictness if day.advice else 0) if answer.advice.ask_person else ""
    steps = next_steps(answer, reader, told, facts.next_lesson)
    return Shown(answer, steps, rests_of(answer, facts, today, side.drill(student)), reader.voice)


def shown_after(side: Side, student: Student, note: HandNote | None, now: dt.datetime) -> Shown | None:
    """The answer to what was just said, by all that is known of the hand. note: the row, with its entry. Ten queries,
    however long the history."""
    today = student.studio.today(now)
    facts = student_facts(student, today, since=today - SPAN)
    shown = shown_of_day(side, student, facts, hand_day(facts, today), today)
    if shown is None or note is None:
        return shown
    back = side.address("back", student, note.code) if may_take_back(note, side.by, now) else ""
    seconds = note.entry.seconds if note.entry is not None else 0
    return replace(shown, back=back, minutes_kept=minutes_kept(side, seconds))


def shown_alone(side: Side, student: Student, given: HandRecord, now: dt.datetime, seconds: int = 0) -> Shown | None:
    """The answer to a note of which nothing is kept. No query."""
    today = student.studio.today(now)
    reader = side.reader(student, today)
    answer = answer_alone(given, now, today, reader)
    if answer is None:
        return None
    steps = next_steps(answer, reader, NOT_KEPT)
    rests = rests_of(answer, None, today)
    return Shown(answer, steps, rests, reader.voice, kept=False, minutes_kept=minutes_kept(side, seconds))


def minutes_kept(side: Side, seconds: int) -> str:
    if not seconds:
        return ""
    words = _("Your %(minutes)s are kept and sent.") if side.own else _("The %(minutes)s are kept and sent.")
    return words % {"minutes": minutes_words(seconds)}


def as_json(request: HttpRequest, shown: Shown | None) -> dict[str, Any]:
    """The answer as a phone shows it, drawn by the same template as a page's. at: by which it tells which of its kept
    pages were drawn before."""
    at = timezone.now().timestamp()
    if shown is None:
        return {"html": "", "level": handrows.NOTHING, "rule": "", "at": at}
    html = render_to_string("practice/_hand_answer.html", {"shown": shown}, request)
    return {"html": html, "level": shown.answer.level, "rule": shown.answer.rule, "at": at}


def draw(
    request: HttpRequest, side: Side, student: Student, shown: Shown | None, plain: Any, back: str = ""
) -> HttpResponse:
    """The page of an answer. plain: its heading where there is no answer; back: where it leads on to."""
    context = {
        "student": student,
        "shown": shown,
        "plain": plain,
        "back": back or side.address("home", student),
        "tell": side.address("tell", student),
        "tell_code": uuid.uuid4(),
        "base": side.base,
        "nav": "roster",
    }
    return render(request, "practice/hand_answer.html", context)


def answered(
    request: HttpRequest, side: Side, student: Student, logged: Logged, now: dt.datetime, back: str = ""
) -> HttpResponse:
    """Where a stored form leads: to the answer, first and alone, where the hand has one (a teacher to the page of the
    hand); else to `back`, or the side's first page, with the sentence of what was stored."""
    back = back or side.address("home", student)
    if logged.note is not None:
        hear_after_commit(student, now, request.build_absolute_uri)
        if shown_after(side, student, None, now) is not None:
            if side.answer:
                return redirect(f"{side.address('answer', student)}?note={logged.note.code}")
            back = side.address("home", student)
    elif logged.hand is not None:
        shown = shown_alone(side, student, logged.hand, now, logged.seconds)
        return draw(request, side, student, shown, logged.said, back)
    messages.success(request, logged.said)
    return redirect(back)


def plain_of(note: HandNote | None) -> Any:
    """The heading of an answer's page on which nothing is asked for."""
    return NOTHING_TODAY if note is None else NOTE_KEPT
