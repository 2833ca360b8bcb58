"""Erasing: a student's hand values, or the whole record.

What counts as a hand value stands in practice.kept. The whole record goes with every row that hangs on the student, the
guardians who have no other child here, the accounts of those who are left without a person, the sessions' share of
their links, and failed sign-ins with their address. What cannot be found is a name that somebody typed in another
student's record; the page says so.
"""

import datetime as dt
import logging
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.apps import apps
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.db import DatabaseError, connection, models, transaction
from django.db.models import Q
from django.utils import timezone

from practice.kept import (
    HAND_CAUTIONS,
    TABLES,
    Table,
    mentions,
    without_hand_cautions,
    without_hand_keys,
    without_marks,
)
from practice.models import Goal, PracticeEntry, TellTeacher
from students.models import Guardian, Guardianship, Student, User
from students.throttle import allowed

logger = logging.getLogger(__name__)

MESSAGES = "_messages"  # django.contrib.messages' key in a session
SIGNED_IN = "_auth_user_id"  # django.contrib.auth's
WHERE_CODES_STAND = ("path_info", "get_data", "post_data")  # axes' columns

# A family can withdraw and agree again as often as it likes: the file is rewritten at most so often by that.
BETWEEN_PACKS = dt.timedelta(minutes=1)


def rows_of(table: Table, student: Student) -> models.QuerySet:
    """The student's rows of one table of practice.kept."""
    return apps.get_model(table.model)._base_manager.filter(**{table.path: student.pk})


def empty_of(model: type[models.Model], name: str) -> object:
    """What stands in a field when nothing is said in it."""
    held = model._meta.get_field(name)
    return None if held.null else held.get_default()


# -- hand values ----------------------------------------------------------------------------------------------


def _emptied(table: Table) -> dict[str, object]:
    """What stands in each hand value of a table when nothing is said in it."""
    return {name: empty_of(apps.get_model(table.model), name) for name in table.hand}


def _filled(table: Table) -> Q:
    """True of the rows in which something is said."""
    each = [
        Q(**{f"{name}__isnull": False}) if empty is None else ~Q(**{name: empty})
        for name, empty in _emptied(table).items()
    ]
    return Q.create(each, connector=Q.OR)


def holds_hand_values(student: Student) -> bool:
    """Whether any hand value is held, shown or hidden. One query for each table that can hold one."""
    for table in TABLES:
        if table.hand_rows and rows_of(table, student).exists():
            return True
        if table.hand and rows_of(table, student).filter(_filled(table)).exists():
            return True
    return False


def erase_hand_values(student: Student) -> int:
    """Erases every hand value of the student and says how many rows that changed.

    What the teacher is to hear without a value (practice.models.TellTeacher) holds none; what was seen of it goes too,
    what nobody has seen yet stays until the teacher has. Consents stay: they say that and when somebody agreed or
    withdrew.
    """
    changed = 0
    with transaction.atomic():
        for table in TABLES:
            rows = rows_of(table, student)
            if table.hand_rows:
                changed += rows.delete()[0]
            if table.hand:
                # all at once: half of what belongs together may break a rule of the table
                changed += rows.filter(_filled(table)).update(**_emptied(table))
        changed += TellTeacher.objects.filter(student=student, seen_at__isnull=False).delete()[0]
        for goal in Goal.objects.filter(student=student).exclude(acknowledged=[]).only("acknowledged"):
            if any(str(code).partition(":")[0] in HAND_CAUTIONS for code in goal.acknowledged):
                Goal.objects.filter(pk=goal.pk).update(acknowledged=without_hand_cautions(goal.acknowledged))
                changed += 1
        for entry in PracticeEntry.objects.filter(student=student).exclude(former=[]).only("former"):
            former = without_hand_keys(entry.former)
            if former != entry.former:
                PracticeEntry.objects.filter(pk=entry.pk).update(former=former)
                changed += 1
        if changed:
            transaction.on_commit(pack_soon, robust=True)
    return changed


# -- the whole record -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Erased:
    """How many rows went, by "app.Model"; a shared row of a session or a sign-in log counts as one."""

    rows: Counter[str]

    @property
    def total(self) -> int:
        return sum(self.rows.values())


def alone(student: Student) -> models.QuerySet:
    """The guardians who have no other child here: they go with the student's record."""
    others = Guardianship.objects.exclude(student=student)
    return Guardian.objects.filter(guardianships__student=student).exclude(pk__in=others.values("guardian"))


def erase_record(student: Student, still: Q | None = None, *, tidy: bool = True) -> Erased | None:
    """Erases a student's whole record in one transaction; None when somebody else did, or `still` no longer holds.

    still: what must be true of the row at that moment, so that a student who was taken back meanwhile is kept.
    tidy: rewrite the database file afterwards (`pack`); a caller that erases several does it once at the end.
    """
    with transaction.atomic():
        row = Student.objects.select_for_update().filter(still or Q(), pk=student.pk).first()
        if row is None:
            return None
        guardians = list(alone(row))
        people: list[Student | Guardian] = [row, *guardians]
        users = User.objects.filter(pk__in=[person.user_id for person in people if person.user_id])
        codes = {str(person.code) for person in people} | {person.code.hex for person in people}
        names = {person.name for person in people}
        rows: Counter[str] = Counter()
        rows.update(row.delete()[1])
        rows.update(Guardian.objects.filter(pk__in=[guardian.pk for guardian in guardians]).delete()[1])
        # an account stays where it is somebody else here, too: a teacher, another child's guardian
        left = users.filter(teacher=None, student=None, guardian=None, is_superuser=False)
        accounts = dict(left.values_list("pk", "email"))
        mails = set(accounts.values()) | {guardian.email for guardian in guardians if guardian.email}
        rows.update(left.delete()[1])
        rows["sessions.Session"] += _forget_in_sessions(codes | mails, names, {str(key) for key in accounts})
        rows["axes.AccessAttempt"] += _forget_sign_ins(codes, mails)
        if tidy:
            transaction.on_commit(pack, robust=True)
    return Erased(+rows)


def _forget_in_sessions(marks: Iterable[str], names: Iterable[str], users: set[str]) -> int:
    """Takes links and messages of erased people out of every session, and signs their accounts out.

    A session is written only where it still holds what was read.
    """
    wanted, spoken = frozenset(marks), frozenset(marks) | frozenset(names)
    changed = 0
    for session in Session.objects.iterator():
        data = session.get_decoded()
        held = Session.objects.filter(pk=session.pk, session_data=session.session_data)
        if data.get(SIGNED_IN) in users:
            changed += bool(Session.objects.filter(pk=session.pk).delete()[0])
            continue
        kept = without_marks(data, wanted)
        if MESSAGES in kept and mentions(kept[MESSAGES], spoken):
            del kept[MESSAGES]
        if kept != data:
            changed += held.update(session_data=SessionStore().encode(kept))
    return changed


def _forget_sign_ins(codes: Iterable[str], mails: Iterable[str]) -> int:
    """Deletes what the sign-in lock noted about the erased people: attempts by their address, or for their pages."""
    deleted = 0
    for model in (AccessAttempt, AccessFailureLog, AccessLog):
        held = {one.name for one in model._meta.get_fields()}
        # an address whole, since one may end another; a code wherever it stands in a page's address or what was sent
        found = [Q(username__iexact=mail) for mail in mails]
        found += [Q(**{f"{name}__icontains": code}) for name in WHERE_CODES_STAND if name in held for code in codes]
        deleted += model.objects.filter(Q.create(found, connector=Q.OR)).delete()[0]
    return deleted


def pack_soon() -> bool:
    """`pack`, unless the file was rewritten by this less than a minute ago: the nightly `apply_retention` does it
    then."""
    if connection.vendor != "sqlite" or not allowed("pack", "", 1, BETWEEN_PACKS, timezone.now()):
        return False
    return pack()


def pack() -> bool:
    """Rewrites an SQLite file so that no erased text is left in pages that are free again; False when it could not be
    done now (the file is in use), and on another database, which does this by itself (PostgreSQL: autovacuum).

    `PRAGMA secure_delete` is not enough: what a page held before it was split stays readable in it.
    """
    if connection.vendor != "sqlite":
        return False
    try:
        with connection.cursor() as cursor:
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            busy = cursor.fetchone()[0]
    except DatabaseError as error:
        logger.warning("the database file could not be rewritten after an erasure: %s", type(error).__name__)
        return False
    if busy:
        logger.warning("the database's journal is in use and was not emptied after an erasure; the next one does it")
    return not busy
