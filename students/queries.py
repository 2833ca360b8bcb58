"""How people are asked for: every QuerySet starts from what the viewer may see."""

import datetime as dt
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from students.consent import GUARDIAN, STUDENT

if TYPE_CHECKING:
    from students.viewer import Viewer


class StudioScoped(models.QuerySet):
    """Rows that carry a studio and that only its teachers see."""

    def visible_to(self, viewer: "Viewer"):
        return self.filter(studio=viewer.studio) if viewer.teaches else self.none()


class StudentQuerySet(models.QuerySet):
    def visible_to(self, viewer: "Viewer"):
        """The owner sees the studio's students, a teacher their own, a guardian their children, a student one."""
        if viewer.owns:
            return self.filter(studio=viewer.studio)
        if viewer.teaches:
            return self.filter(teacher=viewer.teacher)
        if viewer.guardian is not None:
            return self.filter(guardianships__guardian=viewer.guardian)
        if viewer.student is not None:
            return self.filter(pk=viewer.student.pk)
        return self.none()

    def active(self):
        return self.filter(status="active")

    def current(self):
        """On the roster: active or paused, not archived."""
        return self.exclude(status="archived")

    def left(self):
        """Archived, whoever left first at the top; one archived before days were noted comes last."""
        return self.filter(status="archived").order_by(F("left_on").asc(nulls_last=True), "name", "pk")

    def replace_links(self) -> None:
        """Cuts off every link that these students and their guardians were handed, and what may have been made of one:
        their sign-ins by e-mail."""
        from students.models import Guardian

        students = list(self.values_list("pk", flat=True))
        type(self)(self.model).filter(pk__in=students).update(link_version=F("link_version") + 1)
        guardians = Guardian.objects.filter(guardianships__student__in=students)
        pks = list(guardians.values_list("pk", flat=True))
        Guardian.objects.filter(pk__in=pks).update(link_version=F("link_version") + 1)
        for person in (
            *type(self)(self.model).filter(pk__in=students, user__isnull=False).select_related("user"),
            *Guardian.objects.filter(pk__in=pks, user__isnull=False).select_related("user"),
        ):
            person.end_sign_in()

    def with_hand_consent(self, today: dt.date):
        """Annotates `hand_consent`: whether hand values may be shown and stored on `today`."""
        from students.models import Consent

        given = Consent.objects.standing().filter(student=OuterRef("pk"))
        minor = Q(birth_year__isnull=True) | Q(birth_year__gte=today.year - F("studio__adult_age"))
        return self.annotate(
            hand_consent=models.Case(
                models.When(minor, then=Exists(given.filter(given_by=GUARDIAN))),
                default=Exists(given.filter(given_by=STUDENT)),
                output_field=models.BooleanField(),
            )
        )


class GuardianQuerySet(models.QuerySet):
    def visible_to(self, viewer: "Viewer"):
        """Guardians of the students whom a teacher may see, and those who wait for a child; a guardian, only
        themselves."""
        if viewer.owns:
            return self.filter(studio=viewer.studio)
        if viewer.teaches:
            return self.filter(
                studio=viewer.studio, guardianships__student__teacher=viewer.teacher
            ).distinct()
        if viewer.guardian is not None:
            return self.filter(pk=viewer.guardian.pk)
        return self.none()


class OfStudent(models.QuerySet):
    """Rows that hang on a student and are seen by whoever may see the student."""

    def visible_to(self, viewer: "Viewer"):
        from students.models import Student

        return self.filter(student__in=Student.objects.visible_to(viewer))


class ConsentQuerySet(OfStudent):
    def standing(self):
        """Given and not withdrawn."""
        return self.filter(withdrawn_at__isnull=True)


class LessonQuerySet(OfStudent):
    def on(self, day: dt.date):
        return self.filter(day=day)

    def between(self, start: dt.date, end: dt.date):
        """Half-open: start <= day < end."""
        return self.filter(day__gte=start, day__lt=end)
