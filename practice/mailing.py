"""The mail about a hand: to the teacher at once, for a minor to the guardians too, once per episode.

`hear` runs after an entry is stored and never undoes it: whatever goes wrong here is logged by its kind, without a
name, an address or a value, and tried again when the next entry comes. No subject has a word of health in it, no body
a value.
"""

import datetime as dt
import logging
from collections.abc import Callable, Iterable

from django.core.mail import EmailMessage, get_connection
from django.db import transaction
from django.db.models import Max
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _

from practice.handcare import advice, episode_end
from practice.models import HandEpisode, HandNote
from students import links
from students.models import Guardian, Student

logger = logging.getLogger(__name__)

# A mail server that does not answer must not keep the student's phone waiting for long.
PATIENCE_SECONDS = 10


def hear_after_commit(student: Student, now: dt.datetime, absolute: Callable[[str], str]) -> None:
    """Looks at the student's hand once the running transaction is committed. absolute: from a path to a whole address
    (`request.build_absolute_uri`)."""
    transaction.on_commit(lambda: _quietly(student, now, absolute), robust=True)


def _quietly(student: Student, now: dt.datetime, absolute: Callable[[str], str]) -> None:
    try:
        hear(student, now, absolute)
    except Exception as error:  # a stored entry must be answered as stored
        logger.error("an episode could not be looked at: %s", type(error).__name__)


def hear(student: Student, now: dt.datetime, absolute: Callable[[str], str]) -> HandEpisode | None:
    """Closes an episode that is over, opens one where the notes ask for a person, and writes to whoever was not told.

    Returns the open episode. Without a standing consent nothing is read, written or sent.
    """
    today = student.studio.today(now)
    if not student.may_keep_hand_values(today):
        return None
    episode = _episode(student, today, now)
    if episode is not None:
        _tell(episode, student, today, now, absolute)
    return episode


def _episode(student: Student, today: dt.date, now: dt.datetime) -> HandEpisode | None:
    notes = [note.facts for note in HandNote.objects.filter(student=student, day__lte=today).order_by("at", "pk")]
    with transaction.atomic():
        episode = HandEpisode.objects.filter(student=student, closed_at__isnull=True).first()
        if episode is not None:
            over = episode_end(notes, episode.opened_on, today)
            if over is None:
                return episode
            HandEpisode.objects.filter(pk=episode.pk, closed_at__isnull=True).update(closed_at=over)
        # what an earlier episode was about does not open another
        last = HandEpisode.objects.filter(student=student).aggregate(last=Max("closed_at"))["last"]
        fresh = [note for note in notes if last is None or note.at > last]
        if not advice(fresh, today).ask_person:
            return None
        # two entries at once: the other request opened it
        return HandEpisode.objects.get_or_create(
            student=student, closed_at=None, defaults={"opened_at": now, "opened_on": today}
        )[0]


def _tell(
    episode: HandEpisode, student: Student, today: dt.date, now: dt.datetime, absolute: Callable[[str], str]
) -> None:
    if episode.teacher_told_at is None:
        mail = _to_teacher(student, absolute)
        _send(episode, "teacher_told_at", [mail] if mail else [], now)
    if episode.guardians_told_at is None and student.is_minor(today):
        guardians = student.guardians.exclude(email="").select_related("studio")
        mails = [_to_guardian(student, guardian, today, absolute) for guardian in guardians]
        _send(episode, "guardians_told_at", mails, now)


def _send(episode: HandEpisode, told: str, mails: Iterable[EmailMessage], now: dt.datetime) -> None:
    """Sends once: whoever claims the column sends, and gives it back when nothing could be sent."""
    claim = HandEpisode.objects.filter(pk=episode.pk)
    if not claim.filter(**{f"{told}__isnull": True}).update(**{told: now}):
        return
    mails = list(mails)
    try:
        if mails:
            get_connection(timeout=PATIENCE_SECONDS).send_messages(mails)
    except Exception as error:  # SMTP errors carry addresses: only their kind is logged
        claim.update(**{told: None})
        logger.error("a mail could not be sent (%s): %s", told, type(error).__name__)
    else:
        setattr(episode, told, now)


def _to_teacher(student: Student, absolute: Callable[[str], str]) -> EmailMessage | None:
    teacher = student.teacher
    if not teacher.user.is_active:
        return None
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
