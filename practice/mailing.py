"""The mail about a hand: to the teacher at once, for a minor to the guardians too, once per episode, and once more
whenever its answer becomes stricter. Whoever takes a student over while an episode is open is written to as well, once.

`hear` runs after an entry is stored and never undoes it: whatever goes wrong here is logged by its kind, without a
name, an address or a value, and tried again when the next note comes or `manage.py send_pending_mail` runs. No subject
has a word of health in it, no body a value.
"""

import datetime as dt
import logging
from collections.abc import Callable
from dataclasses import dataclass

from django.core.mail import EmailMessage, get_connection
from django.db import transaction
from django.db.models import Max, Q, QuerySet
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from practice.facts import HandFacts
from practice.handcare import ASKS_PERSON, advice, episode_end, stopped_by
from practice.handreturn import stops
from practice.handrows import LEVELS, SEE_SOMEONE
from practice.models import HandEpisode, HandNote, HandReturn
from practice.store import hold, still_agreed
from students import links
from students.models import Guardian, Student

logger = logging.getLogger(__name__)

# A mail server that does not answer must not keep the student's phone waiting for long.
PATIENCE_SECONDS = 10

# Longer than the mails of one episode take: a claim as old as this was left by a process that did not end by itself.
CLAIM = dt.timedelta(minutes=15)

# An episode that was told before its strictness was kept counts as this: what was the strictest then.
UNKNOWN = LEVELS.index(SEE_SOMEONE)
# What opens an episode is at least this strict: also a little on a step of a return, for which no note's row asks.
LEAST = min(LEVELS.index(level) for level in ASKS_PERSON)


def hear_after_commit(student: Student, now: dt.datetime, absolute: Callable[[str], str]) -> None:
    """Looks at the student's hand once the running transaction is committed. absolute: from a path to a whole address
    (`request.build_absolute_uri`)."""
    transaction.on_commit(lambda: _quietly(student, now, absolute), robust=True)


def hear_new_teacher(sender: object, student: Student, now: dt.datetime, absolute: Callable[[str], str],
                     **_more: object) -> None:  # fmt: skip
    """Writes to a teacher who has taken a student over, where an episode is open (students.signals)."""
    if student.status != Student.Status.ARCHIVED:
        hear_after_commit(student, now, absolute)


def _quietly(student: Student, now: dt.datetime, absolute: Callable[[str], str]) -> None:
    try:
        hear(student, now, absolute)
    except Exception as error:  # a stored entry must be answered as stored
        logger.error("an episode could not be looked at: %s", type(error).__name__)


def hear(student: Student, now: dt.datetime, absolute: Callable[[str], str]) -> HandEpisode | None:
    """Closes an episode that is over, opens one where the notes ask for a person, and writes to whoever was not told.

    Returns the open episode. Without a standing consent nothing is read, written or sent.
    """
    return _hear(student, now, absolute)[0]


@dataclass(frozen=True)
class Pending:
    """How many mails were sent and how many failed."""

    sent: int = 0
    failed: int = 0

    def __add__(self, other: "Pending") -> "Pending":
        return Pending(self.sent + other.sent, self.failed + other.failed)


def unhear(student: Student, since: dt.datetime, now: dt.datetime) -> None:
    """After a note of the instant `since` was taken back: an episode that it opened goes with it, and one that it made
    stricter is as strict as what is left. So the next note is written about as if that one had never been."""
    today = student.studio.today(now)
    with transaction.atomic():
        hold(student)
        episode = HandEpisode.objects.filter(student=student, closed_at__isnull=True).first()
        if episode is None:
            return
        fresh = _fresh(student, _notes(student, today))
        found = advice(fresh, today)
        asks = found.ask_person or _stops_a_return(student, fresh, today)
        row = HandEpisode.objects.filter(pk=episode.pk)
        if not asks and episode.opened_at >= since:
            row.delete()
        else:
            row.filter(strictness__gt=max(found.strictness, LEAST)).update(strictness=max(found.strictness, LEAST))


def send_pending(now: dt.datetime, absolute: Callable[[str], str]) -> Pending:
    """Tries every mail about an open episode once more that did not go out. Safe to run twice, and on two machines:
    whoever claims an episode's mail sends it."""
    # all that are open: whether the teacher of now was written to stands in the names of those who were
    waiting = HandEpisode.objects.filter(closed_at__isnull=True).values("student")
    found = Pending()
    for student in Student.objects.current().filter(pk__in=waiting).select_related("studio", "teacher__user"):
        try:
            found += _hear(student, now, absolute)[1]
        except Exception as error:  # one family's trouble must not keep the others waiting
            logger.error("an episode could not be looked at: %s", type(error).__name__)
            found += Pending(failed=1)
    return found


def _hear(
    student: Student, now: dt.datetime, absolute: Callable[[str], str]
) -> tuple[HandEpisode | None, Pending]:
    today = student.studio.today(now)
    episode = _episode(student, today, now)
    if episode is None:
        return None, Pending()
    return episode, _tell(episode, student, today, now, absolute)


def _episode(student: Student, today: dt.date, now: dt.datetime) -> HandEpisode | None:
    with transaction.atomic():
        if not still_agreed(student, today):
            return None
        notes = _notes(student, today)
        episode = HandEpisode.objects.filter(student=student, closed_at__isnull=True).first()
        if episode is not None and (over := episode_end(notes, episode.opened_on, today)) is not None:
            HandEpisode.objects.filter(pk=episode.pk, closed_at__isnull=True).update(closed_at=over)
            episode = None
        fresh = _fresh(student, notes)
        found = advice(fresh, today)
        strictness = max(found.strictness, LEAST)
        if not found.ask_person and not _stops_a_return(student, fresh, today):
            return episode
        if episode is None:
            # two entries at once: the other request opened it
            episode = HandEpisode.objects.get_or_create(
                student=student, closed_at=None,
                defaults={"opened_at": now, "opened_on": today, "strictness": strictness},
            )[0]  # fmt: skip
        _raise(episode, strictness)
        return episode


def _notes(student: Student, today: dt.date) -> list[HandFacts]:
    rows = HandNote.objects.filter(student=student, day__lte=today).order_by("at", "pk")
    return [note.facts for note in rows]


def _fresh(student: Student, notes: list[HandFacts]) -> list[HandFacts]:
    """What an earlier episode was about does not open another. No episode ends while something stops all playing, so
    what stops and is open was noted afterwards, of whatever day."""
    last = HandEpisode.objects.filter(student=student).aggregate(last=Max("closed_at"))["last"]
    return [note for note in notes if last is None or note.at > last or (stopped_by(note) and not note.closed)]


def _raise(episode: HandEpisode, strictness: int) -> None:
    """Makes the episode as strict as its answer now is. Whoever was written to about a milder one is written to again:
    in the same statement the names are forgotten, and a claim on the milder one's mails ends."""
    if strictness <= (episode.strictness or UNKNOWN):
        return
    anew = {"strictness": strictness, "told": [], "teacher_told_at": None, "guardians_told_at": None}
    rows = HandEpisode.objects.filter(pk=episode.pk, closed_at__isnull=True, strictness__lt=strictness)
    rows.update(**anew, claimed_at=None)
    episode.refresh_from_db()


def _stops_a_return(student: Student, notes: list[HandFacts], today: dt.date) -> bool:
    """Whatever is felt on a step of a return is the teacher's to decide on, however little it is."""
    row = HandReturn.objects.filter(student=student, ended_on__isnull=True).first()
    return row is not None and stops(row.level_since, notes, today)


def _tell(
    episode: HandEpisode, student: Student, today: dt.date, now: dt.datetime, absolute: Callable[[str], str]
) -> Pending:
    """Sends each mail of the episode that is still to be sent, once: whoever claims the episode sends.

    Nobody to write to marks nothing: an address that comes later is written to then.
    """
    mails: dict[str, dict[str, EmailMessage]] = {}
    teacher = student.teacher
    if episode.waits_for(teacher) and teacher.user.is_active:
        mails["teacher_told_at"] = {str(teacher.code): _to_teacher(student, absolute)}
    if episode.guardians_told_at is None and student.is_minor(today):
        guardians = student.guardians.exclude(email="").select_related("studio")
        if to_guardians := {str(one.code): _to_guardian(student, one, today, absolute) for one in guardians}:
            mails["guardians_told_at"] = to_guardians
    found = Pending()
    claim = _claim(episode, student, today) if mails else None
    if claim is None:
        return found
    try:
        for column, those in mails.items():
            if episode.waits_for(teacher) if column == "teacher_told_at" else episode.guardians_told_at is None:
                found += _send(episode, claim, column, those, now)
    finally:
        # also when the process is told to end in the middle
        claim.update(claimed_at=None)
    return found


def _claim(episode: HandEpisode, student: Student, today: dt.date) -> QuerySet | None:
    """Claims the episode's mail and reads what was sent of it meanwhile; None while another process sends, or when
    the episode is closed or the consent withdrawn.

    Returns the row as long as the claim stands: an answer that becomes stricter ends it, and is somebody else's to
    send. A claim ends by itself, too: a process that lost its power gave nothing back. It counts from the present
    moment, since a long run of `send_pending_mail` began earlier.
    """
    now = timezone.now()
    with transaction.atomic():
        if not still_agreed(student, today):
            return None
        free = Q(claimed_at__isnull=True) | Q(claimed_at__lte=now - CLAIM)
        if not HandEpisode.objects.filter(free, pk=episode.pk, closed_at__isnull=True).update(claimed_at=now):
            return None
        episode.refresh_from_db(fields=["teacher_told_at", "guardians_told_at", "told", "strictness"])
    return HandEpisode.objects.filter(pk=episode.pk, claimed_at=now, strictness=episode.strictness)


def _send(
    episode: HandEpisode, claim: QuerySet, column: str, mails: dict[str, EmailMessage], now: dt.datetime
) -> Pending:
    """Sends what is left of the mails of a claimed episode. mails: by the code of whom they are for.

    Who was reached is kept with the episode after each mail, so that trying again writes to the others alone. Nothing
    is sent or kept once the claim has ended.
    """
    left = {code: mail for code, mail in mails.items() if code not in episode.told}
    sent = failed = 0
    connection = get_connection(timeout=PATIENCE_SECONDS)
    for code in list(left):
        if not claim.exists():
            return Pending(sent, failed)
        try:
            connection.send_messages([left[code]])
        except Exception as error:  # SMTP errors carry addresses: only their kind is logged
            failed += 1
            logger.error("a mail could not be sent (%s): %s", column, type(error).__name__)
        else:
            sent += 1
            del left[code]
            told = sorted({*episode.told, code})
            if claim.update(told=told):
                episode.told = told
    if not left and claim.update(**{column: now}):
        setattr(episode, column, now)
    return Pending(sent, failed)


def _to_teacher(student: Student, absolute: Callable[[str], str]) -> EmailMessage:
    teacher = student.teacher
    page = reverse("practice:hand-notes", args=[student.code])
    context = {
        "teacher": teacher,
        "student": student,
        "address": absolute(f"{reverse('students:sign-in')}?next={page}"),
    }
    body = render_to_string("practice/mail/teacher.txt", context)
    return EmailMessage(_subject(student), body, to=[teacher.user.email])


def _to_guardian(
    student: Student, guardian: Guardian, today: dt.date, absolute: Callable[[str], str]
) -> EmailMessage:
    address = ""
    if guardian.link_works(guardian.link_version, today):
        token = links.sign(guardian.code, guardian.link_version)
        address = absolute(reverse("students:open-link", args=[token]))
    context = {"guardian": guardian, "student": student, "address": address}
    body = render_to_string("practice/mail/guardian.txt", context)
    return EmailMessage(_subject(student), body, to=[guardian.email])


def _subject(student: Student) -> str:
    """Neutral: a subject is read on locked screens. The studio's name is typed text and may hold a line break."""
    return _("A note to look at, %(studio)s") % {"studio": " ".join(student.studio.name.split())}
