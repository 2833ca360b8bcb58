"""People, their time, their consent and their links."""

import datetime as dt
import uuid
import zoneinfo

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models, transaction
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from students import calendar, consent
from students.queries import ConsentQuerySet, GuardianQuerySet, LessonQuerySet, StudentQuerySet, StudioScoped
from studio.theory import INSTRUMENTS, Hand, Instrument, TheoryError, read_tuning


class UserManager(BaseUserManager):
    def create_user(self, email: str, password: str | None = None, **extra) -> "User":
        user = self.model(email=self.normalise(email), **extra)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **extra) -> "User":
        return self.create_user(email, password, is_superuser=True, **extra)

    def get_by_natural_key(self, email: str | None) -> "User":
        return self.get(email=self.normalise(email or ""))

    @staticmethod
    def normalise(email: str) -> str:
        return email.strip().lower()


class User(AbstractBaseUser, PermissionsMixin):
    """Somebody who signs in; the e-mail address, in lower case, is the user name."""

    email = models.EmailField(_("e-mail"), unique=True)
    is_active = models.BooleanField(_("may sign in"), default=True)
    date_joined = models.DateTimeField(default=timezone.now)

    objects = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(email=Lower("email")), name="user_email_lower_case")
        ]

    def clean(self) -> None:
        super().clean()
        self.email = UserManager.normalise(self.email)

    def __str__(self) -> str:
        return self.email


def is_time_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(_("There is no time zone named %(name)s."), params={"name": name})


class Weekday(models.IntegerChoices):
    MONDAY = 0, _("Monday")
    TUESDAY = 1, _("Tuesday")
    WEDNESDAY = 2, _("Wednesday")
    THURSDAY = 3, _("Thursday")
    FRIDAY = 4, _("Friday")
    SATURDAY = 5, _("Saturday")
    SUNDAY = 6, _("Sunday")


class Studio(models.Model):
    code = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(_("name"), max_length=120)
    zone = models.CharField(
        _("time zone"),
        max_length=64,
        default="Europe/London",
        validators=[is_time_zone],
        help_text=_("A place name such as Europe/London: days and weeks are cut there."),
    )
    week_start = models.PositiveSmallIntegerField(
        _("weeks start on"), choices=Weekday.choices, default=Weekday.MONDAY
    )
    adult_age = models.PositiveSmallIntegerField(
        _("adult from the age of"),
        default=18,
        validators=[MinValueValidator(13), MaxValueValidator(21)],
        help_text=_("Below it a guardian decides whether hand notes are kept."),
    )
    safeguarding_contact = models.CharField(
        _("safeguarding contact"),
        max_length=200,
        blank=True,
        help_text=_("Shown beside every box in which a child writes."),
    )
    retention_months = models.PositiveSmallIntegerField(
        _("keep a record after leaving, months"),
        default=24,
        validators=[MinValueValidator(1), MaxValueValidator(120)],
        help_text=_("After this time the whole record of a student who left is erased."),
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(week_start__lte=6), name="studio_week_start_is_a_weekday"),
            models.CheckConstraint(condition=Q(adult_age__range=(13, 21)), name="studio_adult_age_in_range"),
            models.CheckConstraint(condition=Q(retention_months__range=(1, 120)), name="studio_retention_in_range"),
        ]

    def __str__(self) -> str:
        return self.name

    def today(self, now: dt.datetime) -> dt.date:
        """The studio's calendar day at the instant `now`."""
        return calendar.local_day(now, self.zone)

    def week_of(self, day: dt.date) -> dt.date:
        return calendar.week_of(day, self.week_start)


class Teacher(models.Model):
    code = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    studio = models.ForeignKey(Studio, models.CASCADE, related_name="teachers")
    user = models.OneToOneField(User, models.CASCADE, related_name="teacher")
    name = models.CharField(_("name"), max_length=120)
    is_owner = models.BooleanField(_("owns the studio"), default=False)
    # steps of the first barre in the teacher's own order, as practice.suggest knows them; empty: the usual order
    teaching_order = models.JSONField(_("own teaching order"), default=list, blank=True)

    objects = StudioScoped.as_manager()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class PersonalLink(models.Model):
    """What a personal link needs: raising `link_version` revokes every link handed out before.

    The link itself is signed from the code and the version (students.links) and never stored.
    """

    code = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    link_version = models.PositiveIntegerField(default=1, editable=False)
    link_expires = models.DateField(
        _("link works until"), null=True, blank=True, help_text=_("Leave empty for a link without an end.")
    )
    # a PIN that whoever holds the link chose, hashed as a password; wrong tries since the last right one
    pin = models.CharField(max_length=128, blank=True, default="", editable=False)
    pin_wrong = models.PositiveSmallIntegerField(default=0, editable=False)
    pin_wrong_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        abstract = True

    def link_works(self, version: int, today: dt.date) -> bool:
        return version == self.link_version and (self.link_expires is None or today <= self.link_expires)

    def replace_link(self) -> None:
        """Cuts off every link handed out before, in one atomic write. A sign-in by e-mail goes on: see `cut_off`."""
        type(self).objects.filter(pk=self.pk).update(link_version=models.F("link_version") + 1)
        self.refresh_from_db(fields=["link_version"])

    def end_sign_in(self) -> bool:
        """Takes the sign-in by e-mail away, with every session that was opened by it. False when there was none."""
        user = self.user
        if user is None:
            return False
        with transaction.atomic():
            type(self).objects.filter(pk=self.pk).update(user=None)
            self.user = None
            if not any(role.objects.filter(user=user).exists() for role in (Teacher, Student, Guardian)):
                user.delete()
        return True

    def cut_off(self) -> None:
        """For a lost phone: links, sessions and the sign-in by e-mail all end, whoever uses them.

        The account goes whole and is not merely locked: on a lost phone the mailbox is open too, and whoever came by a
        link may have made the account themselves.
        """
        with transaction.atomic():
            self.replace_link()
            self.end_sign_in()


INSTRUMENT_NAMES = {
    "classical": _("classical, nylon strings"),
    "steel-string": _("steel-string"),
    "electric": _("electric"),
    "three-quarter": _("three-quarter size"),
    "half-size": _("half size"),
}


def is_tuning(text: str) -> None:
    try:
        read_tuning(text)
    except TheoryError as error:
        raise ValidationError(str(error)) from error


class Student(PersonalLink):
    class Status(models.TextChoices):
        ACTIVE = "active", _("active")
        PAUSED = "paused", _("paused")
        ARCHIVED = "archived", _("archived")

    class Plays(models.TextChoices):
        RIGHT = "right", _("right-handed")
        LEFT = "left", _("left-handed")

    class Strings(models.TextChoices):
        UNKNOWN = "", _("not noted")
        STEEL = "steel", _("steel")
        NYLON = "nylon", _("nylon")

    class HandSize(models.TextChoices):
        BY_AGE = "", _("by age")
        SMALL = "small", _("small")
        MEDIUM = "medium", _("medium")
        LARGE = "large", _("large")

    class Every(models.IntegerChoices):
        WEEK = 1, _("every week")
        FORTNIGHT = 2, _("every two weeks")

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="students")
    teacher = models.ForeignKey(Teacher, models.PROTECT, related_name="students", verbose_name=_("teacher"))
    user = models.OneToOneField(User, models.SET_NULL, null=True, blank=True, related_name="student")
    name = models.CharField(_("name"), max_length=120)
    birth_year = models.PositiveSmallIntegerField(
        _("birth year"),
        null=True,
        blank=True,
        help_text=_("Optional. Without it Ledgerline treats the student as a minor."),
    )
    joined = models.DateField(_("with the studio since"))
    status = models.CharField(_("status"), max_length=8, choices=Status.choices, default=Status.ACTIVE)
    # the studio's day on which the student was archived: retention counts from it
    left_on = models.DateField(_("left on"), null=True, blank=True, editable=False)

    instrument = models.CharField(
        _("instrument"), max_length=20, choices=list(INSTRUMENT_NAMES.items()), default="steel-string"
    )
    tuning = models.CharField(
        _("own tuning"),
        max_length=60,
        blank=True,
        validators=[is_tuning],
        help_text=_("6th string first, such as D2 A2 D3 G3 B3 E4. Empty for standard tuning."),
    )
    capo = models.PositiveSmallIntegerField(
        _("capo at fret"),
        default=0,
        validators=[MaxValueValidator(12)],
        help_text=_("0 for none. Frets in goals are then counted from the capo."),
    )
    # the day from which the instrument, tuning or capo is the present one; empty: from the start
    instrument_since = models.DateField(null=True, blank=True, editable=False)
    strings = models.CharField(_("strings"), max_length=5, choices=Strings.choices, blank=True, default="")
    string_gauge = models.CharField(
        _("string gauge"),
        max_length=40,
        blank=True,
        help_text=_("As printed on the packet: .011 to .052, or light, normal, hard tension."),
    )
    last_setup = models.DateField(
        _("last set up"), null=True, blank=True, help_text=_("The day somebody last checked nut and string height.")
    )
    plays = models.CharField(_("plays"), max_length=5, choices=Plays.choices, default=Plays.RIGHT)
    hand_size = models.CharField(
        _("hand size"), max_length=6, choices=HandSize.choices, blank=True, default=HandSize.BY_AGE
    )
    fingertip_mm = models.DecimalField(
        _("index fingertip, mm wide"),
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(8), MaxValueValidator(25)],
        help_text=_("Measured with a ruler; empty for the usual width at this size."),
    )
    reach_mm = models.DecimalField(
        _("reach from index to little finger, mm"),
        max_digits=4,
        decimal_places=0,
        null=True,
        blank=True,
        validators=[MinValueValidator(40), MaxValueValidator(220)],
        help_text=_("Spread comfortably, from tip to tip; empty for the usual reach at this size."),
    )

    lesson_weekday = models.PositiveSmallIntegerField(
        _("lesson day"), choices=Weekday.choices, null=True, blank=True
    )
    lesson_time = models.TimeField(_("lesson time"), null=True, blank=True)
    lesson_minutes = models.PositiveSmallIntegerField(
        _("lesson length, minutes"), default=30, validators=[MinValueValidator(10), MaxValueValidator(180)]
    )
    lesson_every = models.PositiveSmallIntegerField(_("lessons"), choices=Every.choices, default=Every.WEEK)
    lesson_anchor = models.DateField(
        _("a day with a lesson"),
        null=True,
        blank=True,
        help_text=_("For lessons every two weeks: any one day on which a lesson falls."),
    )

    plan_days = models.PositiveSmallIntegerField(
        _("plan: days a week"), default=5, validators=[MinValueValidator(1), MaxValueValidator(7)]
    )
    plan_minutes = models.PositiveSmallIntegerField(
        _("minutes a day"), default=20, validators=[MinValueValidator(5), MaxValueValidator(240)]
    )
    daily_most = models.PositiveSmallIntegerField(
        _("daily most, minutes"),
        default=40,
        validators=[MinValueValidator(5), MaxValueValidator(480)],
        help_text=_("Missed minutes are never carried over; beyond this the page says stop."),
    )
    guardians = models.ManyToManyField("Guardian", through="Guardianship", related_name="students")

    objects = StudentQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["studio", "teacher", "status"], name="roster")]
        constraints = [
            models.CheckConstraint(
                condition=Q(status__in=["active", "paused", "archived"]), name="student_status"
            ),
            models.CheckConstraint(condition=Q(plays__in=["right", "left"]), name="student_plays"),
            models.CheckConstraint(
                condition=Q(lesson_weekday__isnull=True) | Q(lesson_weekday__lte=6),
                name="student_lesson_weekday",
            ),
            models.CheckConstraint(condition=Q(lesson_every__in=[1, 2]), name="student_lesson_every"),
            models.CheckConstraint(condition=Q(plan_days__range=(1, 7)), name="student_plan_days"),
            models.CheckConstraint(
                condition=Q(daily_most__gte=models.F("plan_minutes")), name="student_daily_most_covers_plan"
            ),
            models.CheckConstraint(
                condition=~Q(lesson_every=2) | Q(lesson_anchor__isnull=False),
                name="student_fortnight_has_anchor",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def first_name(self) -> str:
        return self.name.split()[0]

    @property
    def plan_week(self) -> int:
        """Planned minutes a week."""
        return self.plan_days * self.plan_minutes

    def set_status(self, status: str, today: dt.date) -> None:
        """Pauses, archives or takes back; the day of leaving stands from the first archiving until taken back."""
        self.status = status
        archived = status == self.Status.ARCHIVED
        self.left_on = (self.left_on or today) if archived else None
        self.save(update_fields=["status", "left_on"])

    def age(self, today: dt.date) -> int | None:
        return consent.age_in_years(self.birth_year, today)

    def is_minor(self, today: dt.date) -> bool:
        return consent.is_minor(self.birth_year, today, self.studio.adult_age)

    def may_keep_hand_values(self, today: dt.date) -> bool:
        """Whether the right person has agreed that hand values are kept. One query."""
        giver = consent.right_giver(self.birth_year, today, self.studio.adult_age)
        return self.consents.standing().filter(given_by=giver).exists()

    def theory_instrument(self) -> Instrument:
        """The instrument as the theory core knows it: preset, own tuning, capo, how it is played."""
        base = INSTRUMENTS[self.instrument]
        tuning = read_tuning(self.tuning) if self.tuning else base.tuning
        return base.with_(tuning=tuning, capo=self.capo, plays=self.plays)

    def theory_hand(self, today: dt.date) -> Hand:
        return Hand.of(
            size=self.hand_size or None,
            age=self.age(today),
            fingertip_mm=None if self.fingertip_mm is None else float(self.fingertip_mm),
            reach_mm=None if self.reach_mm is None else float(self.reach_mm),
        )

    def has_lesson_on(self, day: dt.date) -> bool:
        return calendar.is_lesson_day(day, self.lesson_weekday, self.lesson_every, self.lesson_anchor)

    def next_lesson(self, after: dt.date) -> dt.date | None:
        return calendar.next_lesson_day(after, self.lesson_weekday, self.lesson_every, self.lesson_anchor)


class Guardian(PersonalLink):
    studio = models.ForeignKey(Studio, models.CASCADE, related_name="guardians")
    user = models.OneToOneField(User, models.SET_NULL, null=True, blank=True, related_name="guardian")
    name = models.CharField(_("name"), max_length=120)
    email = models.EmailField(_("e-mail"), blank=True)

    objects = GuardianQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Guardianship(models.Model):
    guardian = models.ForeignKey(Guardian, models.CASCADE, related_name="guardianships")
    student = models.ForeignKey(Student, models.CASCADE, related_name="guardianships")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["guardian", "student"], name="one_guardianship_per_pair")
        ]

    def clean(self) -> None:
        if self.guardian.studio_id != self.student.studio_id:
            raise ValidationError(_("A guardian and a student belong to the same studio."))

    def __str__(self) -> str:
        return f"{self.guardian}: {self.student}"


class Consent(models.Model):
    """Who agreed, when, to which wording, that hand values of a student are kept; withdrawn or not."""

    class GivenBy(models.TextChoices):
        GUARDIAN = consent.GUARDIAN, _("guardian")
        STUDENT = consent.STUDENT, _("student")

    class Way(models.TextChoices):
        LINK = "link", _("on their own page")
        PAPER = "paper", _("on paper, entered by a teacher")

    student = models.ForeignKey(Student, models.CASCADE, related_name="consents")
    given_by = models.CharField(max_length=8, choices=GivenBy.choices)
    guardian = models.ForeignKey(Guardian, models.SET_NULL, null=True, blank=True, related_name="consents")
    name = models.CharField(_("name of who agreed"), max_length=120)
    given_at = models.DateTimeField()
    way = models.CharField(max_length=5, choices=Way.choices)
    recorded_by = models.ForeignKey(Teacher, models.SET_NULL, null=True, blank=True)
    wording = models.CharField(max_length=20, default=consent.present_wording)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_name = models.CharField(max_length=120, blank=True)

    objects = ConsentQuerySet.as_manager()

    class Meta:
        ordering = ["-given_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(given_by__in=["guardian", "student"]), name="consent_given_by"
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True) | Q(withdrawn_at__gte=models.F("given_at")),
                name="consent_withdrawn_after_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student}: {self.given_by}, {self.given_at:%Y-%m-%d}"


class Lesson(models.Model):
    """What became of one lesson, and the teacher's private words on it."""

    class Outcome(models.TextChoices):
        HELD = "held", _("held")
        MOVED = "moved", _("moved")
        CALLED_OFF = "called-off", _("called off by the family, in time")
        CALLED_OFF_LATE = "called-off-late", _("called off by the family, late")
        CALLED_OFF_STUDIO = "called-off-studio", _("called off by the studio")
        NOT_COME = "not-come", _("not come")
        OWED = "owed", _("owed")

    code = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    student = models.ForeignKey(Student, models.CASCADE, related_name="lessons")
    day = models.DateField(_("day"))
    time = models.TimeField(_("time"), null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(
        _("minutes"), default=30, validators=[MinValueValidator(10), MaxValueValidator(180)]
    )
    outcome = models.CharField(
        _("the lesson was"), max_length=18, choices=Outcome.choices, default=Outcome.HELD
    )
    words = models.TextField(
        _("your words"), max_length=2000, blank=True, help_text=_("The family may ask to see this.")
    )
    recorded_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = LessonQuerySet.as_manager()

    class Meta:
        ordering = ["-day", "-time", "-pk"]
        constraints = [models.UniqueConstraint(fields=["student", "day"], name="one_lesson_a_day")]

    def __str__(self) -> str:
        return f"{self.student}, {self.day}"


class Tries(models.Model):
    """How often something was asked for within a while: a counter that all processes share (students.throttle).

    key: a keyed hash of what is counted, so that no address or person can be read from it.
    """

    key = models.CharField(max_length=64, unique=True)
    count = models.PositiveIntegerField(default=0)
    since = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"{self.count} since {self.since:%Y-%m-%d %H:%M}"
