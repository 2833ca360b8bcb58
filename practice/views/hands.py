"""A student's hand notes for the teacher: behind one tap, marked as seen, closed with what was done, and what stopped
all playing with a clinician's word.

On the same page stand the stepwise return, what is noted of the strings, and the goals that were set in spite of it.
"""

import datetime as dt
from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, ngettext_lazy
from django.views.decorators.http import require_http_methods

from practice import hand_acts, handcare, handday, handreturn, handshown, load
from practice.facts import StudentFacts
from practice.hand_acts import Refused
from practice.hand_forms import BeginForm, CloseForm, EndForm, OwnStepForm
from practice.hand_words import TICKED
from practice.handanswer import Reader, voice_of
from practice.models import HandNote, HandReturn, NeedsWord
from practice.queries import student_facts
from practice.words import say
from students.models import Student

# The list goes back this many notes; older ones stay in the student's file.
MOST_NOTES = 60
# Entries and notes that the answers read.
SPAN = dt.timedelta(weeks=26)
MOST_RETURNS = 6

# What is said when something cannot be done about a hand, by the code of Refused.
REFUSED = {
    "consent": gettext_lazy("There is no consent, so nothing is written about this hand."),
    "open": gettext_lazy("A return was begun before; it stands below."),
    "none": gettext_lazy("The return was moved or ended meanwhile. Please look at it again."),
    "days": gettext_lazy("The days on this step do not allow the next one yet."),
    "last": gettext_lazy("There is no further step. End the return when the hand is well."),
    "stop": gettext_lazy(
        "A doctor or hand therapist has to look first: close what stopped all playing with their word."
    ),
}


def _student(request: HttpRequest, code: Any) -> Student:
    seen = Student.objects.visible_to(request.viewer).select_related("studio", "teacher")
    return get_object_or_404(seen, code=code)


@require_http_methods(["GET", "HEAD", "POST"])
def hand_notes(request: HttpRequest, student: Any) -> HttpResponse:
    """The notes; POST "Seen" marks what was on the page (up to the instant `until`) as seen."""
    row = _student(request, student)
    if request.method == "POST" and "episode" in request.POST:
        return _close_episode(request, row)
    if request.method == "POST" and "looked" in request.POST:
        return _looked_at(request, row)
    if request.method == "POST":
        return _mark_seen(request, row)
    return page(request, row)


def _mark_seen(request: HttpRequest, student: Student) -> HttpResponse:
    now = timezone.now()
    try:
        until = parse_datetime(request.POST.get("until", ""))
        until = until.astimezone(dt.UTC) if until and timezone.is_aware(until) else None
    except (ValueError, OverflowError):
        until = None
    until = min(until or now, now)
    unseen = {"seen_at__isnull": True, "at__lte": until}
    count = student.hand_notes.filter(**unseen).update(seen_at=now)
    count += student.tells.filter(**unseen).update(seen_at=now)
    if count:
        words = ngettext("%(count)d note is marked as seen.", "%(count)d notes are marked as seen.", count)
        messages.success(request, words % {"count": count})
    return redirect("practice:hand-notes", student=student.code)


def _looked_at(request: HttpRequest, student: Student) -> HttpResponse:
    """Notes that string height and gauge were looked at today. It says nothing of the hand, so it needs no consent."""
    today = student.studio.today(timezone.now())
    Student.objects.filter(pk=student.pk).update(last_setup=today)
    messages.success(request, _("Noted: the strings were looked at today."))
    return redirect("practice:hand-notes", student=student.code)


def _close_episode(request: HttpRequest, student: Student) -> HttpResponse:
    """Closes the episode that was on the page, with the notes it is about."""
    now = timezone.now()
    if not student.may_keep_hand_values(student.studio.today(now)):
        messages.error(request, _("There is no consent, so nothing more is written about this hand."))
        return redirect("practice:hand-notes", student=student.code)
    form = CloseForm(request.POST, prefix="episode", stops=hand_acts.is_stopped(student, student.studio.today(now)))
    if not form.is_valid():
        return page(request, student, form)
    episode = student.hand_episodes.filter(closed_at__isnull=True).first()
    # another episode may have opened since the page was drawn
    same = episode is not None and str(episode.code) == request.POST["episode"]
    words = _("All of it is closed. The next note starts anew.")
    return _closed(request, student, form.closing, words, lambda: same and hand_acts.close_episode(
        student, episode, form.closing, request.viewer.teacher, now
    ))  # fmt: skip


def close(request: HttpRequest, student: Any, note: Any) -> HttpResponse:
    """Closes a note with what was done, POST only; a note closed before keeps its first words."""
    row = _student(request, student)
    found = get_object_or_404(row.hand_notes, code=note)
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    now = timezone.now()
    if not row.may_keep_hand_values(row.studio.today(now)):
        messages.error(request, _("There is no consent, so nothing more is written about this hand."))
        return redirect("practice:hand-notes", student=row.code)
    form = CloseForm(request.POST, prefix=str(found.code), stops=found.stops)
    if not form.is_valid():
        return page(request, row, form)
    return _closed(request, row, form.closing, _("The note is closed."), lambda: hand_acts.close_note(
        row, found, form.closing, request.viewer.teacher, now
    ))  # fmt: skip


def _closed(
    request: HttpRequest, student: Student, closing: hand_acts.Closing, words: str, act: Callable[[], bool]
) -> HttpResponse:
    """Closes, and says what was closed and what follows."""
    try:
        done = act()
    except (Refused, NeedsWord) as refused:  # something came between the form and the row
        messages.warning(request, str(REFUSED[getattr(refused, "code", "stop")]))
        return redirect("practice:hand-notes", student=student.code)
    if not done:
        messages.warning(request, _("This was closed before; the words written then stay."))
    elif closing.then == hand_acts.RETURN:
        messages.success(request, f"{words} {_('The return begins today, on the first step.')}")
    else:
        messages.success(request, words)
    return redirect("practice:hand-notes", student=student.code)


# The yes/no answers as a teacher reads them: (field, yes, no).
ANSWERS = (
    ("at_rest", gettext_lazy("also at rest or at night"), gettext_lazy("not at rest, not at night")),
    ("daily", gettext_lazy("in the way of daily tasks"), gettext_lazy("not in the way of daily tasks")),
    ("sudden", gettext_lazy("sudden, and on one side"), gettext_lazy("not sudden on one side")),
    (
        "face_arm_leg",
        gettext_lazy("an arm, a leg or one side of the face suddenly numb or weak"),
        gettext_lazy("no arm, leg or side of the face suddenly numb or weak"),
    ),
    (
        "tip_only",
        gettext_lazy("only at the fingertip and gone within the hour"),
        gettext_lazy("not only at the fingertip, or for longer than an hour"),
    ),
)


def _more(note: HandNote) -> list[str]:
    """What else was answered, in words: what was ticked, when it began, what ten minutes' rest left of it, yes and
    no."""
    told = [str(TICKED[code]) for code in note.also if code in TICKED]
    if note.began:
        told.append(_("began %(when)s") % {"when": note.get_began_display()})
    if note.rested is not None:
        told.append(_("%(number)d after ten minutes’ rest") % {"number": note.rested})
    for name, yes, no in ANSWERS:
        answer = getattr(note, name)
        if answer is not None:
            told.append(str(yes if answer else no))
    return told


def _played(facts: StudentFacts) -> dict[str, list[str]]:
    """The titles of the goals that each entry spent time on, by the entry's code."""
    titles = {goal.code: goal.title for goal in facts.goals}
    return {one.code: [titles[goal] for goal, _seconds in one.segments if goal in titles] for one in facts.entries}


def page(request: HttpRequest, student: Student, wrong: forms.Form | None = None) -> HttpResponse:
    """The whole page; wrong: the form that was sent and does not hold, in place of its empty one."""
    now = timezone.now()
    today = student.studio.today(now)
    facts = student_facts(student, today, since=today - SPAN)
    consent = facts.hand_consent
    notes = list(student.hand_notes.select_related("entry")[:MOST_NOTES]) if consent else []
    played = _played(facts)
    tells = list(student.tells.all()[:MOST_NOTES])
    day = handday.hand_day(facts, today)
    advice = day.advice or handcare.Advice(handcare.NOTHING)
    stopped = any(handcare.stopped_by(note) and not note.closed for note in facts.notes)
    reader = Reader(voice_of(facts.age, facts.minor), student.first_name, student.teacher.name)
    holding = [note for note in handcare.in_force(facts.notes) if handcare.own_row(note) is not None]
    still_open = {note.code for note in (*handcare.open_notes(facts.notes), *holding)}
    episode = student.hand_episodes.filter(closed_at__isnull=True).first() if consent else None
    if episode is not None and handcare.episode_end(facts.notes, episode.opened_on, today):
        episode = None  # over; the next note closes its row
    rows = []
    well = [note for note in notes if note.discomfort == 0 and handcare.own_row(note.facts) is None]
    for note in notes:
        if note in well:
            continue
        form = None
        if note.closed_at is None:
            form = _sent(wrong, str(note.code)) or CloseForm(prefix=str(note.code), stops=note.stops)
        rows.append({"note": note, "open": str(note.code) in still_open, "form": form, "more": _more(note),
                     "played": played.get(str(note.entry.code), []) if note.entry else []})  # fmt: skip
    context = {
        "nav": "roster",
        "student": student,
        "today": today,
        "consent": consent,
        "rows": rows,
        "well": well,
        "tells": tells,
        "unseen": any(item.seen_at is None for item in (*notes, *tells)),
        "until": now.isoformat(),
        "level": advice.level,
        "until_seen": advice.until_seen,
        "urgent": advice.urgent,
        "stops": advice.stops,
        "reads": handshown.answer_of_day(day, reader),
        "advice": [say(one) for one in advice.says],
        "rule": say(advice.why),
        "source": say(advice.source),
        "other_view": say(advice.other_view),
        "jump": say(load.bigger_jump(facts.entries, facts.joined, today, facts.week_start)) if consent else "",
        "wrong": wrong,
        "episode": episode,
        "teacher_told": None if episode is None or episode.waits_for(student.teacher) else episode.teacher_told_at,
        "episode_form": (_sent(wrong, "episode") or CloseForm(prefix="episode", stops=stopped)) if episode else None,
        "stopped": stopped,
        "strings": _strings(student, today) if advice.checks_strings or facts.hand_return else None,
        "spite": [goal for goal in facts.active_goals if goal.hand_reason] if consent else [],
        "back": _return(student, facts, day, today, wrong, stopped) if consent else None,
    }
    return render(request, "practice/hand_notes.html", context)


def _sent(wrong: forms.Form | None, prefix: str) -> forms.Form | None:
    return wrong if wrong is not None and wrong.prefix == prefix else None


def _strings(student: Student, today: dt.date) -> dict[str, str]:
    """What is noted of the strings, and how long ago somebody looked at their height."""
    noted = [str(student.get_strings_display())] if student.strings else []
    if student.string_gauge:
        noted.append(student.string_gauge)
    return {
        "noted": ", ".join(noted),
        "looked": ago_words(student.last_setup, today) if student.last_setup else "",
    }


def ago_words(day: dt.date, today: dt.date) -> str:
    """How long ago a day was, as people say it: days, weeks, months, years."""
    days = max(0, (today - day).days)
    if days == 0:
        return _("today")
    for length, most, words in _AGO:
        if days < most:
            return words % {"count": int(days / length)}
    return ngettext("%(count)d year ago", "%(count)d years ago", days // 365) % {"count": days // 365}


# days in one, up to how many days, words
_AGO = (
    (1, 14, ngettext_lazy("%(count)d day ago", "%(count)d days ago", "count")),
    (7, 63, ngettext_lazy("%(count)d week ago", "%(count)d weeks ago", "count")),
    (30.44, 730, ngettext_lazy("%(count)d month ago", "%(count)d months ago", "count")),
)


def _return(
    student: Student, facts: StudentFacts, day: handday.HandDay, today: dt.date, wrong: forms.Form | None,
    stopped: bool,
) -> dict[str, Any]:  # fmt: skip
    """The stepwise return for the template: the open one with what its days allow, and those that ended."""
    found = list(HandReturn.objects.filter(student=student)[:MOST_RETURNS])
    row = next((one for one in found if one.ended_on is None), None)
    told: dict[str, Any] = {
        "row": row,
        "past": [{"row": one, "steps": _steps(one)} for one in found if one.ended_on is not None],
        # nobody is offered a return whose hand was never in question
        "offered": row is None and (day.answers or bool(facts.notes)),
    }
    verdict = day.verdict
    if row is None or facts.hand_return is None or verdict is None:
        told["begin"] = _sent(wrong, "begin") or BeginForm(prefix="begin", today=today, joined=student.joined)
        return told
    upward = row.level < handreturn.LAST_LEVEL
    own = upward and row.level + 1 >= handreturn.OWN_FROM
    told |= {
        "steps": _steps(row),
        "most": handreturn.most_of(facts.hand_return),
        "verdict": verdict,
        "reason": say(verdict.reason),
        "up": verdict.move == handreturn.UP and upward,
        "waits": stopped,
        "own": (_sent(wrong, "own") or OwnStepForm(prefix="own")) if own else None,
        "next": handreturn.STEPS.get(row.level + 1),
        "end": _sent(wrong, "end") or EndForm(prefix="end"),
        "moved": hand_acts.mark(row),
    }
    return told


def _steps(row: HandReturn) -> list[dict[str, Any]]:
    """The steps with their days, oldest first."""
    kept = []
    for one in row.steps:
        numbers = one[3:6] if len(one) > 6 else [None] * 3
        step = {"level": one[0], "day": parse_date(one[1]), "words": one[2]}
        kept.append(step | dict(zip(("play", "rest", "rounds"), numbers, strict=True)))
    return kept
