"""What a teacher does about a hand: close what was noted; begin, move and end a stepwise return.

Rows of a return are written here and nowhere else, under a consent that is asked again inside the transaction.
`practice.handreturn` says what the days allow; a step up that they do not allow is refused here, whoever asks.
"""

import datetime as dt
from dataclasses import dataclass

from django.db import IntegrityError, transaction

from practice.handcare import advice, stopped_by
from practice.handday import hand_day
from practice.handreturn import LAST_LEVEL, OWN_FROM, STEPS, UP, Step, Verdict, is_felt
from practice.models import HandEpisode, HandNote, HandReturn
from practice.queries import student_facts
from practice.store import still_agreed
from students.models import Student, Teacher

# What the days on a step read: no step is kept for longer without a word about it.
SPAN = dt.timedelta(weeks=26)
DAY = dt.timedelta(days=1)


# What follows the closing of a note that stopped all playing.
RETURN, PLAY, MISTAKE = "return", "play", "mistake"


class Refused(Exception):
    """The return cannot go there: code says why ("consent", "open", "none", "days", "last", "stop")."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


@dataclass(frozen=True)
class Closing:
    """words: what was done. For what stopped all playing: then, one of RETURN, PLAY, MISTAKE, and cleared_by, whose
    word it is, empty for a mistake."""

    words: str
    then: str = ""
    cleared_by: str = ""


@dataclass(frozen=True)
class Own:
    """A step in the teacher's and the clinician's own numbers; words: to the student."""

    step: Step
    barre: bool = False
    words: str = ""


def open_return(student: Student) -> HandReturn | None:
    """The student's return that is under way. One query."""
    return HandReturn.objects.filter(student=student, ended_on__isnull=True).first()


def mark(row: HandReturn) -> str:
    """Names the state of a return that a page was drawn from, so that a tap on an old page moves nobody twice."""
    return f"{row.code}:{len(row.steps)}"


def allowed(row: HandReturn, student: Student, today: dt.date) -> Verdict:
    """What the days on the present step allow, as the student's own page says it. Reads the student's facts."""
    found = hand_day(student_facts(student, today, since=today - SPAN), today).verdict
    if found is None:  # consent withdrawn, or ended meanwhile
        raise Refused("none")
    return found


def is_stopped(student: Student, today: dt.date) -> bool:
    """Whether a note stops all playing until a clinician's word. One query."""
    notes = HandNote.objects.filter(student=student, closed_at__isnull=True, day__lte=today).may_stop()
    return any(stopped_by(note.facts) for note in notes)


def require_moves(student: Student, today: dt.date) -> None:
    """Raises Refused while a clinician's word is missing: no step, up or back, takes its place."""
    if is_stopped(student, today):
        raise Refused("stop")


def require_up(student: Student, row: HandReturn, today: dt.date) -> None:
    """Raises Refused unless the days allow the next step, and there is one."""
    require_moves(student, today)
    if row.level >= LAST_LEVEL:
        raise Refused("last")
    if allowed(row, student, today).move != UP:
        raise Refused("days")


@transaction.atomic
def begin(student: Student, day: dt.date, cleared_by: str, words: str, teacher: Teacher | None, now: dt.datetime,
          closing: str) -> HandReturn:  # fmt: skip
    """Begins a return on `day` at level 1. What was noted before it is dealt with: those notes, and the episode that
    they opened, close with `closing`. Raises Refused ("consent", "open")."""
    _agreed(student, now)
    first = STEPS[1]
    try:
        with transaction.atomic():
            row = HandReturn.objects.create(
                student=student, begun_on=day, level_since=day, cleared_by=cleared_by, set_by=teacher, level=1,
                play_minutes=first.play, rest_minutes=first.rest, rounds=first.rounds,
                steps=[_entry(1, day, words, first, False)],
            )  # fmt: skip
    except IntegrityError:
        raise Refused("open") from None
    # what was noted on an earlier first day belongs to the return's own record
    _deal_with(student, day if day == student.studio.today(now) else day - DAY, cleared_by, now, closing)
    return row


def _deal_with(student: Student, until: dt.date, cleared_by: str, now: dt.datetime, closing: str) -> None:
    """Closes what was noted up to a day, and the episode that it opened."""
    for note in HandNote.objects.filter(student=student, closed_at__isnull=True, at__lte=now, day__lte=until):
        note.close(closing, now, cleared_by)
    _end_episode(student, closing, now)


@transaction.atomic
def close_note(student: Student, note: HandNote, closing: Closing, teacher: Teacher | None, now: dt.datetime) -> bool:
    """Closes a note, and with the last that asks for a person the episode. False when somebody closed it before.
    Raises NeedsWord, Refused."""
    _agreed(student, now)
    if not note.close(closing.words, now, closing.cleared_by, closing.then == MISTAKE):
        return False
    _go_on(student, closing, teacher, now)
    _end_episode(student, closing.words, now)
    return True


@transaction.atomic
def close_episode(
    student: Student, episode: HandEpisode, closing: Closing, teacher: Teacher | None, now: dt.datetime
) -> bool:
    """Closes an episode with its notes. False when it was closed before. Raises NeedsWord, Refused."""
    _agreed(student, now)
    if not episode.close(closing.words, now, closing.cleared_by, closing.then == MISTAKE):
        return False
    _go_on(student, closing, teacher, now)
    return True


def _go_on(student: Student, closing: Closing, teacher: Teacher | None, now: dt.datetime) -> None:
    """Begins the stepwise return where that follows; one that is under way begins anew."""
    if closing.then != RETURN:
        return
    today = student.studio.today(now)
    row = open_return(student)
    if row is None:
        begin(student, today, closing.cleared_by, "", teacher, now, closing.words)
        return
    _set(row, 1, STEPS[1], False, "", teacher, today)
    HandReturn.objects.filter(pk=row.pk).update(cleared_by=closing.cleared_by)
    _deal_with(student, today, closing.cleared_by, now, closing.words)


@transaction.atomic
def move_up(student: Student, row: HandReturn, own: Own | None, teacher: Teacher | None, now: dt.datetime,
            words: str = "") -> None:  # fmt: skip
    """One step on, if the days allow it. own: needed from level 3 on. Raises Refused."""
    _agreed(student, now)
    today = student.studio.today(now)
    require_up(student, row, today)
    level = row.level + 1
    if level >= OWN_FROM:
        if own is None:
            raise ValueError(f"level {level} has no published numbers: give the teacher's own")
        _set(row, level, own.step, own.barre, own.words, teacher, today)
    else:
        _set(row, level, STEPS[level], False, words, teacher, today)


@transaction.atomic
def move_back(student: Student, row: HandReturn, teacher: Teacher | None, now: dt.datetime, closing: str) -> None:
    """One step back, or the first step anew, unless a clinician's word is missing. What was felt on the step is dealt
    with: those notes close with `closing`. Raises Refused."""
    _agreed(student, now)
    today = student.studio.today(now)
    require_moves(student, today)
    level = max(1, row.level - 1)
    step, barre, words = _earlier(row, level)
    felt = HandNote.objects.filter(student=student, closed_at__isnull=True, at__lte=now, day__gte=row.level_since)
    _set(row, level, step, barre, words, teacher, today)
    for note in felt:
        if is_felt(note.facts):
            note.close(closing, now)
    _end_episode(student, closing, now)


@transaction.atomic
def end(student: Student, row: HandReturn, words: str, now: dt.datetime) -> None:
    """Ends the return; its steps and days stay. Raises Refused ("consent", "none")."""
    _agreed(student, now)
    today = max(student.studio.today(now), row.begun_on)
    if not HandReturn.objects.filter(pk=row.pk, ended_on__isnull=True).update(ended_on=today, ended_words=words):
        raise Refused("none")


def _agreed(student: Student, now: dt.datetime) -> None:
    if not still_agreed(student, student.studio.today(now)):
        raise Refused("consent")


def _set(row: HandReturn, level: int, step: Step, barre: bool, words: str, teacher: Teacher | None,
         today: dt.date) -> None:  # fmt: skip
    """Writes the step, unless somebody moved the return since the row was read."""
    since = max(today, row.begun_on)
    changed = HandReturn.objects.filter(pk=row.pk, ended_on__isnull=True, level=row.level, level_since=row.level_since)
    if not changed.update(
        level=level, level_since=since, play_minutes=step.play, rest_minutes=step.rest, rounds=step.rounds,
        barre=barre, set_by=teacher, steps=[*row.steps, _entry(level, since, words, step, barre)],
    ):  # fmt: skip
        raise Refused("none")


def _entry(level: int, day: dt.date, words: str, step: Step, barre: bool) -> list[object]:
    return [level, day.isoformat(), words, step.play, step.rest, step.rounds, barre]


def _earlier(row: HandReturn, level: int) -> tuple[Step, bool, str]:
    """The step as it was when the return was last on that level; the published one else."""
    if level in STEPS:
        return STEPS[level], False, ""
    for one in reversed(row.steps):
        if one[0] == level and len(one) > 6:
            return Step(*one[3:6]), bool(one[6]), one[2]
    # a row from elsewhere that kept no numbers: nothing is invented, the last published step stands
    return STEPS[OWN_FROM - 1], False, ""


def _end_episode(student: Student, words: str, now: dt.datetime) -> None:
    """Closes the open episode where the notes that are left do not ask for a person any more."""
    today = student.studio.today(now)
    notes = [note.facts for note in HandNote.objects.filter(student=student).order_by("at", "pk")]
    if not advice(notes, today).ask_person:
        for episode in HandEpisode.objects.filter(student=student, closed_at__isnull=True):
            HandEpisode.objects.filter(pk=episode.pk, closed_at__isnull=True).update(
                closed_at=max(now, episode.opened_at), closed_words=words
            )
