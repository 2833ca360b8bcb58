"""A student's hand notes for the teacher: behind one tap, marked as seen, closed with what was done."""

import datetime as dt
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods

from practice import handcare
from practice.models import HandNote
from practice.said import said
from practice.words import say
from students.models import Student

# The list goes back this many notes; older ones stay in the student's file.
MOST_NOTES = 60


class CloseForm(forms.Form):
    words = forms.CharField(
        label=gettext_lazy("What was done"), max_length=300,
        help_text=gettext_lazy("In a few words. The family may ask to see this."),
        error_messages={"required": gettext_lazy("Say in a few words what was done, then close the note.")},
        widget=forms.Textarea(attrs={"rows": 2}),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def hand_notes(request: HttpRequest, student: Any) -> HttpResponse:
    """The notes; POST "Seen" marks what was on the page (up to the instant `until`) as seen."""
    row = get_object_or_404(Student.objects.visible_to(request.viewer).select_related("studio"), code=student)
    if request.method == "POST" and "episode" in request.POST:
        return _close_episode(request, row)
    if request.method == "POST":
        return _mark_seen(request, row)
    return _page(request, row)


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


def _close_episode(request: HttpRequest, student: Student) -> HttpResponse:
    """Closes the episode that was on the page, with the notes it is about."""
    now = timezone.now()
    if not student.may_keep_hand_values(student.studio.today(now)):
        messages.error(request, _("There is no consent, so nothing more is written about this hand."))
        return redirect("practice:hand-notes", student=student.code)
    form = CloseForm(request.POST, prefix="episode")
    if not form.is_valid():
        return _page(request, student, form)
    episode = student.hand_episodes.filter(closed_at__isnull=True).first()
    # another episode may have opened since the page was drawn
    same = episode is not None and str(episode.code) == request.POST["episode"]
    if same and episode.close(form.cleaned_data["words"].strip(), now):
        messages.success(request, _("All of it is closed. The next note starts anew."))
    else:
        messages.warning(request, _("This was closed before; the words written then stay."))
    return redirect("practice:hand-notes", student=student.code)


def close(request: HttpRequest, student: Any, note: Any) -> HttpResponse:
    """Closes a note with what was done, POST only; a note closed before keeps its first words."""
    row = get_object_or_404(Student.objects.visible_to(request.viewer).select_related("studio"), code=student)
    found = get_object_or_404(row.hand_notes, code=note)
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    now = timezone.now()
    if not row.may_keep_hand_values(row.studio.today(now)):
        messages.error(request, _("There is no consent, so nothing more is written about this hand."))
        return redirect("practice:hand-notes", student=row.code)
    form = CloseForm(request.POST, prefix=str(found.code))
    if not form.is_valid():
        return _page(request, row, form)
    if found.close(form.cleaned_data["words"].strip(), now):
        messages.success(request, _("The note is closed."))
        _end_episode(row, form.cleaned_data["words"].strip(), now)
    else:
        messages.warning(request, _("This note was closed before; the words written then stay."))
    return redirect("practice:hand-notes", student=row.code)


def _end_episode(student: Student, words: str, now: dt.datetime) -> None:
    """With the note that asked for a person the episode is closed, too."""
    episode = student.hand_episodes.filter(closed_at__isnull=True).first()
    if episode is None:
        return
    today = student.studio.today(now)
    notes = [note.facts for note in student.hand_notes.order_by("at", "pk")]
    if not handcare.advice(notes, today).ask_person:
        episode.close(words, now)


# The yes/no answers as a teacher reads them: (field, yes, no).
ANSWERS = (
    ("at_rest", gettext_lazy("also at rest or at night"), gettext_lazy("not at rest, not at night")),
    ("daily", gettext_lazy("in the way of daily tasks"), gettext_lazy("not in the way of daily tasks")),
    ("sudden", gettext_lazy("sudden, and on one side"), gettext_lazy("not sudden on one side")),
    (
        "tip_only",
        gettext_lazy("only at the fingertip and gone within the hour"),
        gettext_lazy("not only at the fingertip, or for longer than an hour"),
    ),
)


def _more(note: HandNote) -> list[str]:
    """What else was answered, in words: when it began, what ten minutes' rest left of it, yes and no."""
    told = []
    if note.began:
        told.append(_("began %(when)s") % {"when": note.get_began_display()})
    if note.rested is not None:
        told.append(_("%(number)d after ten minutes’ rest") % {"number": note.rested})
    for name, yes, no in ANSWERS:
        answer = getattr(note, name)
        if answer is not None:
            told.append(str(yes if answer else no))
    return told


def _page(request: HttpRequest, student: Student, wrong: CloseForm | None = None) -> HttpResponse:
    now = timezone.now()
    today = student.studio.today(now)
    consent = student.may_keep_hand_values(today)
    notes = list(student.hand_notes.all()[:MOST_NOTES]) if consent else []
    facts = [note.facts for note in reversed(notes)]
    tells = list(student.tells.all()[:MOST_NOTES])
    advice = handcare.advice(facts, today)
    still_open = set(handcare.open_notes(facts))
    episode = student.hand_episodes.filter(closed_at__isnull=True).first() if consent else None
    if episode is not None and handcare.episode_end(facts, episode.opened_on, today):
        episode = None  # over; the next note closes its row
    typed = wrong is not None and wrong.prefix == "episode"
    rows = []
    well = [note for note in notes if note.discomfort == 0 and not note.sensation]
    for note in notes:
        if note in well:
            continue
        form = None
        if note.closed_at is None:
            mine = wrong is not None and wrong.prefix == str(note.code)
            form = wrong if mine else CloseForm(prefix=str(note.code))
        rows.append({"note": note, "open": note.facts in still_open, "form": form, "more": _more(note)})
    context = {
        "nav": "roster",
        "student": student,
        "consent": consent,
        "rows": rows,
        "well": well,
        "tells": tells,
        "unseen": any(item.seen_at is None for item in (*notes, *tells)),
        "until": now.isoformat(),
        "level": advice.level,
        "advice": [say(one) for one in advice.says],
        "rule": say(said(f"rule-{advice.rule}")) if advice.rule else "",
        "source": say(advice.source) if advice.source else "",
        "other_view": say(advice.other_view) if advice.other_view else "",
        "wrong": wrong,
        "episode": episode,
        "episode_form": (wrong if typed else CloseForm(prefix="episode")) if episode else None,
    }
    return render(request, "practice/hand_notes.html", context, status=200)
