"""What the pages that log a session or a hand share: the bound form, and what happens to a valid one."""

import datetime as dt
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from practice.entry_form import EntryForm, minutes_words
from practice.goal_voicings import voicings_of
from practice.hand_note_form import HandNoteForm
from practice.handanswer import voice_of
from practice.models import Goal, HandNote, Segment
from practice.record import EntryRecord, HandNoteRecord, HandRecord, Span
from practice.store import ForeignCode, NoConsent, store_entry, store_note
from students.models import Student
from studio import theory

AVERAGE = theory.Hand()  # a chord goal's own voicing does not depend on the hand

NOTE_KEPT = gettext_lazy("Your note about the hand is kept.")
TIRING_WITH_MINUTES = gettext_lazy("How tiring it was goes with minutes, and was not kept.")
NOTE_NOT_KEPT = gettext_lazy("There is no consent any more, so nothing was kept.")
# Said once a wish for a word about the hand is kept.
TOLD_TEACHER = gettext_lazy("Your teacher will see that you want a word about your hand. Rest it until then.")


def entry_form(
    student: Student,
    now: dt.datetime,
    data: Any = None,
    paper: bool = False,
    initial: dict[str, Any] | None = None,
    voice: str = "",
) -> EntryForm:
    """The form for this student, bound when `data` is given. Three queries: goals, sessions near, consent.

    voice: of whoever logs (practice.handanswer.VOICES), the student's own where none is given.
    """
    today = student.studio.today(now)
    goals = list(student.goals.active().in_order())
    instrument = student.theory_instrument()
    # a form sent twice must not be told that it overlaps itself
    sent = str((data or {}).get("code", "")).strip().lower()
    return EntryForm(
        data,
        student=student,
        goals=goals,
        spans=spans_near(student, now, sent),
        now=now,
        hand_consent=student.may_keep_hand_values(today),
        voice=voice or voice_of(student.age(today), student.is_minor(today)),
        voicings={goal.pk: first_voicing(goal, instrument) for goal in goals},
        paper=paper,
        initial=initial,
    )


def spans_near(student: Student, now: dt.datetime, without: str) -> list[Span]:
    """The spans of the student's sessions of the last year but for the entry of this code. One query.

    A drill, an entry spent whole on roots, is no session logged twice: the timer stands still beside it.
    """
    drills = Segment.objects.filter(entry=OuterRef("pk"), goal__kind=Goal.Kind.ROOTS, seconds=OuterRef("seconds"))
    near = student.entries.filter(~Exists(drills), begun__gte=now - dt.timedelta(days=368))
    near = near.values_list("code", "begun", "seconds")
    return [(begun, begun + dt.timedelta(seconds=seconds)) for code, begun, seconds in near if str(code) != without]


def is_drill(record: EntryRecord, goals: Mapping[uuid.UUID, Goal]) -> bool:
    """Whether an entry is spent whole on roots, as those that `spans_near` leaves out. goals: by code."""
    (goal, seconds), *others = record.segments or ((None, 0),)
    return not others and seconds == record.seconds and goal in goals and goals[goal].kind == Goal.Kind.ROOTS


def first_voicing(goal: Goal, instrument: theory.Instrument) -> theory.Voicing | None:
    """What a chord goal asks to be held, or None for other goals and where the instrument has no such place."""
    if goal.kind != Goal.Kind.CHORD:
        return None
    try:
        return next(iter(voicings_of(goal.theory, instrument, AVERAGE)), None)
    except theory.TheoryError:
        return None


@dataclass(frozen=True)
class Logged:
    """What became of a valid form. said: the sentence to show; seconds: of the session, 0 for a note alone; hand: what
    was said of it, if anything; note: the row that is kept of that, None without a consent."""

    said: str
    seconds: int = 0
    hand: HandRecord | None = None
    note: HandNote | None = None


def log_entry(student: Student, form: EntryForm, by: str, by_name: str, now: dt.datetime) -> Logged | None:
    """Stores a valid form once, as a session or as a hand note alone; None when the form now carries an error."""
    if form.note_alone:
        logged = log_note(student, form, form.note_record(), by, now)
        if logged is not None and form.cleaned_data.get("tiring") is not None:
            logged = replace(logged, said=f"{logged.said} {TIRING_WITH_MINUTES}")
        return logged
    record = form.record()
    try:
        stored = store_entry(student, record, by, by_name, now, form.hand_consent)
    except ForeignCode:
        return _once_more(form)
    if not stored.same:
        form.add_error(
            None,
            _("This form was already stored once, with %(minutes)s. Send it again to log a second session.")
            % {"minutes": minutes_words(stored.entry.seconds)},
        )
        form.renew_code()
        return None
    note = stored.entry.hand_notes.first() if record.hand is not None else None
    return Logged(told_of(record), record.seconds, record.hand, note)


def log_note(
    student: Student, form: EntryForm | HandNoteForm, record: HandNoteRecord, by: str, now: dt.datetime
) -> Logged | None:
    """Stores a hand note by itself once; None when the form now carries an error."""
    try:
        stored = store_note(student, record, by, now)
    except NoConsent:
        return Logged(str(NOTE_NOT_KEPT), hand=record.hand)
    except ForeignCode:
        return _once_more(form)
    if not stored.same:
        form.add_error(None, _("This form was already kept once, with other answers. Send it again as a second note."))
        form.renew_code()
        return None
    return Logged(str(NOTE_KEPT), hand=record.hand, note=stored.note)


def _once_more(form: EntryForm | HandNoteForm) -> None:
    form.add_error(None, _("Please send it once more."))
    form.renew_code()


def told_of(record: EntryRecord) -> str:
    """The sentence that says what was logged."""
    count = len(record.segments)
    told = ngettext("%(minutes)s logged, with %(count)d goal.", "%(minutes)s logged, with %(count)d goals.", count)
    if not count:
        told = _("%(minutes)s logged.")
    return told % {"minutes": minutes_words(record.seconds), "count": count}
