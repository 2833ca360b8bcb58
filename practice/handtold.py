"""Whether the teacher has been told of what a hand asks for: said only once it is true."""

from django.conf import settings

from practice.handshown import FAILED, TOLD
from practice.mailing import UNKNOWN
from students.models import Student

# Backends of Django that write a mail down and send it to nobody. The one of tests counts as sending.
KEEP_TO_THEMSELVES = ("console", "dummy", "filebased")


def mail_leaves() -> bool:
    """Whether a mail reaches anybody with these settings."""
    return settings.EMAIL_BACKEND.removesuffix(".EmailBackend").rpartition(".")[2] not in KEEP_TO_THEMSELVES


def told_of(student: Student, strictness: int) -> str:
    """TOLD where the student's teacher of now was written to about an answer of this strictness, or a stricter one, in
    the open episode; else FAILED. One query."""
    if not mail_leaves():
        return FAILED
    episode = student.hand_episodes.filter(closed_at__isnull=True).first()
    if episode is None or episode.waits_for(student.teacher):
        return FAILED
    return TOLD if (episode.strictness or UNKNOWN) >= strictness else FAILED
