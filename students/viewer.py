"""Who is asking. Each request carries one frozen `Viewer`, and every QuerySet starts from it.

A person is known by a signed-in user (teacher, owner, or a student or guardian with a password) or by the
personal links opened in this session. Links are read again from the database at each request, so revoking one
acts at once.
"""

import datetime as dt
import uuid
from collections.abc import Callable, Collection
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from students.links import Link, session_links
from students.models import Guardian, Student, Studio, Teacher, User
from students.pins import is_open


class Role(StrEnum):
    OWNER = "owner"
    TEACHER = "teacher"
    STUDENT = "student"
    GUARDIAN = "guardian"


TEACHERS = frozenset({Role.OWNER, Role.TEACHER})


@dataclass(frozen=True)
class Viewer:
    """role: what the person is here; exactly one of teacher, student, guardian is set, as the role says. minor: a
    student who came by a link and is none of those who may sign in by e-mail."""

    role: Role
    studio: Studio
    user: User | None = None
    link: Link | None = None
    teacher: Teacher | None = None
    student: Student | None = None
    guardian: Guardian | None = None
    minor: bool = False

    @property
    def teaches(self) -> bool:
        return self.role in TEACHERS

    @property
    def owns(self) -> bool:
        return self.role is Role.OWNER

    @property
    def name(self) -> str:
        person = self.teacher or self.guardian or self.student
        return person.name if person else ""


def open_to(*roles: Role) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Opens a view to these roles in place of the teachers; without it a view is the teachers' only."""

    def mark(view: Callable[..., Any]) -> Callable[..., Any]:
        view.open_to = frozenset(roles)  # type: ignore[attr-defined]
        return view

    return mark


def viewer_of_user(user: User) -> Viewer | None:
    """The viewer that a signed-in user is, or None for a user without a person. One to three queries."""
    teacher = Teacher.objects.select_related("studio").filter(user=user).first()
    if teacher is not None:
        role = Role.OWNER if teacher.is_owner else Role.TEACHER
        return Viewer(role, teacher.studio, user=user, teacher=teacher)
    student = Student.objects.current().select_related("studio", "teacher").filter(user=user).first()
    if student is not None:
        return Viewer(Role.STUDENT, student.studio, user=user, student=student)
    guardian = Guardian.objects.select_related("studio").filter(user=user).first()
    if guardian is not None:
        return Viewer(Role.GUARDIAN, guardian.studio, user=user, guardian=guardian)
    return None


@dataclass(frozen=True)
class Locked:
    """Somebody whose link works and whose PIN was not given in this browser yet."""

    role: Role
    holder: Student | Guardian


def viewer_of_links(
    session: Any, student: uuid.UUID | None, roles: Collection[Role], now: dt.datetime
) -> Viewer | Locked | None:
    """The viewer whom the session's links make of this person for the pages of `student`. At most two queries.

    A phone may hold a child's link and a guardian's: the role that the page is open to decides which counts. Where
    every link that would open the page is bound to a PIN which was not given yet, the one opened last is told.
    """
    if student is None:
        return None
    locked: Locked | None = None
    links = session_links(session)
    if Role.STUDENT in roles and any(link.role == Role.STUDENT and link.code == student for link in links):
        row = Student.objects.current().select_related("studio", "teacher").filter(code=student).first()
        for link in links:
            if row is None or (link.role, link.code) != (Role.STUDENT, student):
                continue
            today = row.studio.today(now)
            if row.link_works(link.version, today):
                if is_open(session, row):
                    return Viewer(Role.STUDENT, row.studio, link=link, student=row, minor=row.is_minor(today))
                locked = Locked(Role.STUDENT, row)
    if Role.GUARDIAN in roles:
        held = {link.code: link for link in links if link.role == Role.GUARDIAN}
        if held:
            children = Student.objects.current().filter(code=student)
            rows = Guardian.objects.select_related("studio").filter(code__in=held, students__in=children)
            for guardian in sorted(rows, key=lambda one: list(held).index(one.code)):
                link = held[guardian.code]
                if guardian.link_works(link.version, guardian.studio.today(now)):
                    if is_open(session, guardian):
                        return Viewer(Role.GUARDIAN, guardian.studio, link=link, guardian=guardian)
                    locked = Locked(Role.GUARDIAN, guardian)
    return locked
