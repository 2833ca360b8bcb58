"""Work and hands: goals, practice entries with their segments and results, hand notes.

A goal keeps its terms and never what follows from them: voicings, diagrams and states are computed when read.
"""

import datetime as dt
import uuid
from dataclasses import replace

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models, transaction
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from practice.facts import HandFacts, ReturnFacts
from practice.handcare import stopped_by
from practice.measures import MEASURES
from practice.queries import EntryQuerySet, GoalQuerySet, HandNoteQuerySet, OfStudent, ResultQuerySet, SongQuerySet
from practice.songbook import SongFacts
from practice.suggest import Refusal
from students.calendar import local_day
from students.models import Lesson, Student, Teacher
from studio import theory


class MeasureCode(models.TextChoices):
    CLEAN = "clean", _("clean strings")
    LANDINGS = "landings", _("landings of five")
    CHANGES = "changes", _("changes a minute")
    TEMPO = "tempo", _("tempo")
    SECONDS = "seconds", _("seconds for all twelve")
    RIGHT = "right", _("right answers per minute")
    RUNS = "runs", _("run-throughs of three without a stop")
    MARK = "mark", _("mark, 0 to 5")
    MINUTES = "minutes", _("minutes a week")


class Goal(models.Model):
    class Kind(models.TextChoices):
        CHORD = "chord", _("chord")
        CHANGE = "change", _("change")
        PROGRESSION = "progression", _("progression")
        ROOTS = "roots", _("roots")
        PIECE = "piece", _("piece or exercise")

    code = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    student = models.ForeignKey(Student, models.CASCADE, related_name="goals")
    kind = models.CharField(_("kind"), max_length=11, choices=Kind.choices)
    terms = models.JSONField(help_text="studio.theory.Goal.to_terms()")
    measure = models.CharField(_("measured by"), max_length=8, choices=MeasureCode.choices)
    target = models.FloatField(_("target"))
    start_value = models.FloatField(_("start value"), null=True, blank=True)
    due = models.DateField(_("due"))
    words = models.CharField(_("your words to the student"), max_length=300, blank=True)
    # codes of the cautions that the teacher saw and set the goal with
    acknowledged = models.JSONField(default=list, blank=True)
    # why a goal with a barre was set while the hand notes ask for a person
    hand_reason = models.CharField(_("your reason, in spite of the hand note"), max_length=300, blank=True)
    created_by = models.ForeignKey(Teacher, models.SET_NULL, null=True, blank=True, related_name="+")
    created_at = models.DateTimeField(default=timezone.now)
    day = models.DateField(help_text="the studio's day on which the goal was set")
    set_aside_at = models.DateTimeField(null=True, blank=True)
    changed_at = models.DateTimeField(auto_now=True)

    objects = GoalQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["student", "due"], name="goals_of_student")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["chord", "change", "progression", "roots", "piece"]), name="goal_kind"
            ),
            models.CheckConstraint(condition=Q(measure__in=list(MEASURES)), name="goal_measure"),
            models.CheckConstraint(condition=Q(target__gte=0), name="goal_target_not_negative"),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def theory(self) -> "theory.Goal":
        """The goal as the theory core knows it."""
        return theory.Goal.from_terms(self.terms)

    @property
    def title(self) -> str:
        return self.theory.title_text()

    def keep_until(self, due: dt.date) -> None:
        """Goes on with the goal as it is: only the due day moves."""
        self.due = due
        self.save(update_fields=["due", "changed_at"])

    def raise_target(self, target: float, due: dt.date) -> bool:
        """Sets a further target and due day, unless somebody changed the target since this row was read."""
        changed = Goal.objects.filter(pk=self.pk, target=self.target).update(
            target=target, due=due, changed_at=timezone.now()
        )
        if changed:
            self.target, self.due = target, due
        return bool(changed)

    def set_aside(self, now: dt.datetime) -> None:
        """Rests the goal: it leaves the student's page, its history stays. Once set aside, the first time counts."""
        if self.set_aside_at is None:
            self.set_aside_at = now
            self.save(update_fields=["set_aside_at", "changed_at"])

    def take_back(self, due: dt.date) -> None:
        """Takes a goal up again that was set aside."""
        self.set_aside_at, self.due = None, due
        self.save(update_fields=["set_aside_at", "due", "changed_at"])


class PracticeEntry(models.Model):
    """A logged session. Its code is made where it is logged, so that sending it twice stores it once."""

    class By(models.TextChoices):
        STUDENT = "student", _("student")
        PARENT = "parent", _("parent")
        TEACHER = "teacher", _("teacher")
        PAPER = "paper", _("from paper")

    code = models.UUIDField(default=uuid.uuid4, unique=True)
    student = models.ForeignKey(Student, models.CASCADE, related_name="entries")
    begun = models.DateTimeField(_("begun"))
    seconds = models.PositiveIntegerField(_("seconds played"))
    day = models.DateField(help_text="local day of `begun` in the studio's zone")
    by = models.CharField(_("logged by"), max_length=7, choices=By.choices)
    by_name = models.CharField(max_length=120, blank=True)
    tiring = models.PositiveSmallIntegerField(_("how tiring"), null=True, blank=True)
    # a young child's "a little", "some", "a lot", kept as 2, 5 and 8
    tiring_in_words = models.BooleanField(default=False)
    note = models.TextField(_("note to the teacher"), max_length=1000, blank=True)
    stored_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_at = models.DateTimeField(auto_now=True)
    # a correction names the version that it changes; former: what stood before, oldest first (practice.store)
    version = models.PositiveIntegerField(default=1, editable=False)
    former = models.JSONField(default=list, blank=True, editable=False)

    objects = EntryQuerySet.as_manager()

    class Meta:
        ordering = ["-begun", "-pk"]
        # every page asks for one student's days, newest first
        indexes = [models.Index(fields=["student", "-day"], name="entries_of_student")]
        constraints = [
            models.CheckConstraint(
                condition=Q(seconds__gte=1, seconds__lte=8 * 3600), name="entry_of_at_most_8_hours"
            ),
            models.CheckConstraint(
                condition=Q(tiring__isnull=True) | Q(tiring__lte=10), name="entry_tiring_0_to_10"
            ),
            models.CheckConstraint(
                condition=Q(tiring_in_words=False) | Q(tiring__isnull=False, tiring__in=[0, 2, 5, 8]),
                name="entry_tiring_words_are_2_5_8",
            ),
            models.CheckConstraint(
                condition=Q(by__in=["student", "parent", "teacher", "paper"]), name="entry_by"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.day}"

    @property
    def minutes(self) -> int:
        return round(self.seconds / 60)


class RemovedEntry(models.Model):
    """That an entry was removed, when and by whom, and nothing of what it said: a phone that did not hear of its first
    answer must not store it once more."""

    code = models.UUIDField(unique=True)
    student = models.ForeignKey(Student, models.CASCADE, related_name="removed_entries")
    at = models.DateTimeField()
    by = models.CharField(max_length=7, choices=PracticeEntry.By.choices)
    by_name = models.CharField(max_length=120, blank=True)

    objects = OfStudent.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.student}, {self.at:%Y-%m-%d}"


class Segment(models.Model):
    """The part of an entry spent on one goal."""

    entry = models.ForeignKey(PracticeEntry, models.CASCADE, related_name="segments")
    goal = models.ForeignKey(Goal, models.CASCADE, related_name="segments")
    seconds = models.PositiveIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["entry", "goal"], name="one_segment_per_goal"),
            models.CheckConstraint(
                condition=Q(seconds__gte=1, seconds__lte=8 * 3600), name="segment_seconds"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.seconds} s"


class Result(models.Model):
    """One measurement of a goal: reported with an entry, or checked in a lesson. Exactly one of both."""

    student = models.ForeignKey(Student, models.CASCADE, related_name="results")
    goal = models.ForeignKey(Goal, models.CASCADE, related_name="results")
    entry = models.ForeignKey(PracticeEntry, models.CASCADE, null=True, blank=True, related_name="results")
    lesson = models.ForeignKey(Lesson, models.CASCADE, null=True, blank=True, related_name="checks")
    day = models.DateField()
    at = models.DateTimeField()
    measure = models.CharField(max_length=8, choices=MeasureCode.choices)
    value = models.FloatField()
    # strings (6 = lowest) that did not ring, or rang although marked x; only for clean strings
    failed_strings = models.JSONField(default=list, blank=True)

    objects = ResultQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["student", "day"], name="results_of_student")]
        constraints = [
            models.CheckConstraint(
                condition=Q(entry__isnull=True, lesson__isnull=False)
                | Q(entry__isnull=False, lesson__isnull=True),
                name="result_from_entry_or_lesson",
            ),
            models.CheckConstraint(condition=Q(measure__in=list(MEASURES)), name="result_measure"),
            models.CheckConstraint(condition=Q(value__gte=0), name="result_value_not_negative"),
            models.UniqueConstraint(fields=["entry", "goal", "measure"], name="one_result_per_entry"),
            models.UniqueConstraint(fields=["lesson", "goal", "measure"], name="one_check_per_lesson"),
        ]

    def __str__(self) -> str:
        return f"{self.day}: {self.measure} {self.value:g}"

    @property
    def is_check(self) -> bool:
        return self.lesson_id is not None


class NeedsWord(Exception):
    """What stops all playing is closed with the word of a doctor or hand therapist, or as noted by mistake."""


class HandNote(models.Model):
    """How a hand felt. Stored only under a standing consent (students.consent)."""

    class Hand(models.TextChoices):
        FRETTING = "fretting", _("fretting hand")
        PICKING = "picking", _("picking hand")
        BOTH = "both", _("both")
        MIDDLE = "middle", _("middle")

    class Place(models.TextChoices):
        FINGERTIP = "fingertip", _("fingertip skin")
        INDEX = "index", _("index finger")
        SECOND = "second", _("second finger")
        THIRD = "third", _("third finger")
        LITTLE = "little", _("little finger")
        THUMB = "thumb", _("thumb")
        PALM = "palm", _("palm")
        WRIST = "wrist", _("wrist")
        FOREARM = "forearm", _("forearm")
        ELBOW = "elbow", _("elbow")
        SHOULDER = "shoulder", _("shoulder")
        NECK = "neck", _("neck")

    class Sensation(models.TextChoices):
        SORE = "sore", _("sore skin")
        DENTED = "dented", _("dented skin")
        BLISTER = "blister", _("blister")
        BROKEN = "broken", _("broken skin")
        ACHE = "ache", _("ache")
        TIGHT = "tight", _("tightness")
        SHARP = "sharp", _("sharp")
        BURNING = "burning", _("burning")
        NUMB = "numb", _("numbness or tingling")
        WEAK = "weak", _("weakness or loss of control")

    class Settles(models.TextChoices):
        AT_ONCE = "at-once", _("as soon as I stop")
        HOUR = "hour", _("within the hour")
        DAY = "day", _("within the day")
        NEXT_DAY = "next-day", _("still there the next day")
        REST = "rest", _("also at rest or at night")

    class Began(models.TextChoices):
        BEFORE = "before", _("before I played")
        DURING = "during", _("while I played")
        AFTER = "after", _("after I played")

    code = models.UUIDField(default=uuid.uuid4, unique=True)
    student = models.ForeignKey(Student, models.CASCADE, related_name="hand_notes")
    entry = models.ForeignKey(
        PracticeEntry, models.SET_NULL, null=True, blank=True, related_name="hand_notes"
    )
    at = models.DateTimeField()
    day = models.DateField()
    by = models.CharField(max_length=7, choices=PracticeEntry.By.choices)
    discomfort = models.PositiveSmallIntegerField(
        _("discomfort, 0 to 10"), validators=[MinValueValidator(0), MaxValueValidator(10)]
    )
    hand = models.CharField(_("which hand"), max_length=8, choices=Hand.choices, blank=True)
    place = models.CharField(_("where"), max_length=9, choices=Place.choices, blank=True)
    sensation = models.CharField(_("what it is like"), max_length=8, choices=Sensation.choices, blank=True)
    settles = models.CharField(_("it settles"), max_length=8, choices=Settles.choices, blank=True)
    rested = models.PositiveSmallIntegerField(_("after ten minutes’ rest"), null=True, blank=True)
    began = models.CharField(_("it began"), max_length=6, choices=Began.choices, blank=True)
    # yes/no, empty where not asked or not answered
    at_rest = models.BooleanField(_("also at rest or at night?"), null=True, blank=True)
    daily = models.BooleanField(_("in the way of daily tasks?"), null=True, blank=True)
    sudden = models.BooleanField(_("sudden, and on one side of the body?"), null=True, blank=True)
    tip_only = models.BooleanField(_("numb only at the fingertip, and gone within the hour?"), null=True, blank=True)
    # asked whenever numb or weak is chosen; `sudden` is the question of older rows, which keep its wording and its rule
    face_arm_leg = models.BooleanField(
        _("an arm, a leg or one side of the face suddenly numb or weak?"), null=True, blank=True
    )
    # codes of practice.handrows.ALSO that were ticked under "Any of these?", at any number
    also = models.JSONField(_("any of these"), default=list, blank=True)
    # a young child's "a little", "some", "a lot", kept as 2, 5 and 8
    in_words = models.BooleanField(default=False)
    seen_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_words = models.CharField(_("what was done"), max_length=300, blank=True)
    # whose word a note that stopped all playing was closed with: a doctor's or hand therapist's
    cleared_by = models.CharField(_("who looked at the hand"), max_length=120, blank=True)

    objects = HandNoteQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["student", "-day"], name="hand_notes_of_student")]
        constraints = [
            models.CheckConstraint(condition=Q(discomfort__lte=10), name="hand_note_0_to_10"),
            models.CheckConstraint(
                condition=Q(discomfort=0) | (~Q(hand="") & ~Q(place="")), name="hand_note_says_where"
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("at")), name="hand_note_closed_after"
            ),
            models.CheckConstraint(
                condition=Q(rested__isnull=True) | Q(rested__lte=F("discomfort")), name="hand_note_rested_at_most"
            ),
            models.CheckConstraint(
                condition=Q(in_words=False) | Q(discomfort__in=[0, 2, 5, 8]), name="hand_note_words_are_2_5_8"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.day}: {self.discomfort}"

    @property
    def facts(self) -> HandFacts:
        """The note as the computations see it."""
        return HandFacts(
            day=self.day,
            at=self.at,
            discomfort=self.discomfort,
            hand=self.hand,
            place=self.place,
            sensation=self.sensation,
            settles=self.settles,
            seen=self.seen_at is not None,
            closed=self.closed_at is not None,
            rested=self.rested,
            began=self.began,
            at_rest=self.at_rest,
            daily=self.daily,
            sudden=self.sudden,
            tip_only=self.tip_only,
            in_words=self.in_words,
            face_arm_leg=self.face_arm_leg,
            also=tuple(self.also),
            code=str(self.code),
        )

    @property
    def stops(self) -> bool:
        """Whether it stops all playing until a doctor or hand therapist has had a look (practice.handcare)."""
        return stopped_by(self.facts)

    def facts_in(self, zone: str) -> HandFacts:
        """The same with the day on which it was closed, in the studio's zone."""
        return replace(self.facts, closed_on=self.closed_at and local_day(self.closed_at, zone))

    def close(self, words: str, now: dt.datetime, cleared_by: str = "", mistaken: bool = False) -> bool:
        """Closes the note with what was done, and marks it as seen. False when somebody closed it before.

        cleared_by: the doctor or hand therapist who had a look; mistaken: it was noted by mistake. What stops all
        playing is closed with one of them or not at all: NeedsWord.
        """
        if self.stops and not cleared_by and not mistaken:
            raise NeedsWord
        return bool(
            HandNote.objects.filter(pk=self.pk, closed_at__isnull=True).update(
                closed_at=max(now, self.at), closed_words=words, cleared_by=cleared_by, seen_at=self.seen_at or now
            )
        )


class HandEpisode(models.Model):
    """A time during which a hand's notes ask for a person: from the first such answer until it is over.

    It holds no value of a note. The teacher, and for a minor the guardians, are written to once per episode and once
    more whenever its answer becomes stricter, and so is whoever takes the student over meanwhile.
    """

    code = models.UUIDField(default=uuid.uuid4, unique=True)
    student = models.ForeignKey(Student, models.CASCADE, related_name="hand_episodes")
    opened_at = models.DateTimeField()
    opened_on = models.DateField(help_text="the studio's day on which it opened")
    teacher_told_at = models.DateTimeField(null=True, blank=True)
    guardians_told_at = models.DateTimeField(null=True, blank=True)
    # codes of those whose mail went out, so that trying again writes to nobody twice and a new teacher is known as one
    told = models.JSONField(default=list, blank=True)
    # how strict the answer was of which they were written to (practice.handcare.LEVELS): a stricter one writes again
    strictness = models.PositiveSmallIntegerField(default=0, editable=False)
    # since when a process sends the episode's mails; left standing by one that lost its power
    claimed_at = models.DateTimeField(null=True, blank=True, editable=False)
    closed_at = models.DateTimeField(null=True, blank=True)
    # empty when the notes themselves closed it
    closed_words = models.CharField(_("what was done"), max_length=300, blank=True)

    objects = OfStudent.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["student"], condition=Q(closed_at__isnull=True), name="one_open_episode_per_student"
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("opened_at")), name="episode_closed_after"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.opened_on}"

    def waits_for(self, teacher: Teacher) -> bool:
        """Whether this teacher is still to be written to. A row that names nobody is older than the names: then its
        time counts."""
        return self.teacher_told_at is None or (bool(self.told) and str(teacher.code) not in self.told)

    def close(self, words: str, now: dt.datetime, cleared_by: str = "", mistaken: bool = False) -> bool:
        """Closes the episode and every note still open to advice with what was done, all or nothing. False when it
        was closed before. cleared_by, mistaken: as for a note; raises NeedsWord where one of the notes stops.
        """
        with transaction.atomic():
            closed = HandEpisode.objects.filter(pk=self.pk, closed_at__isnull=True).update(
                closed_at=max(now, self.opened_at), closed_words=words
            )
            if not closed:
                return False
            left = HandNote.objects.filter(student=self.student_id, closed_at__isnull=True, at__lte=now)
            left = left.filter(Q(discomfort__gt=0) | ~Q(sensation="") | ~Q(also=[]) | Q(face_arm_leg=True))
            if not cleared_by and not mistaken and any(note.stops for note in left):
                raise NeedsWord
            left.update(closed_at=now, closed_words=words, cleared_by=cleared_by, seen_at=Coalesce("seen_at", now))
        return True


class TellTeacher(models.Model):
    """What a teacher is to hear about a hand without any value: somebody asks for a word ("Tell my teacher"), a note
    was taken back as a wrong tap, or a consent has ended and the plan is to be talked over."""

    class About(models.TextChoices):
        WORD = "word", _("a word is wanted")
        TAKEN_BACK = "back", _("a note was taken back as a wrong tap")
        CONSENT = "consent", _("the consent has ended: talk the plan over")

    code = models.UUIDField(default=uuid.uuid4, unique=True)
    student = models.ForeignKey(Student, models.CASCADE, related_name="tells")
    at = models.DateTimeField(default=timezone.now)
    by = models.CharField(max_length=7, choices=PracticeEntry.By.choices)
    about = models.CharField(max_length=7, choices=About.choices, default=About.WORD)
    seen_at = models.DateTimeField(null=True, blank=True)

    objects = OfStudent.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.student}, {self.at:%Y-%m-%d}"


class HandReturn(models.Model):
    """A stepwise return to playing after clearance. One open row per student; held under consent like a hand note.

    level 1 and 2 as published (BAPAM: practice.handreturn.STEPS); from 3 on teacher and clinician set the step:
    `rounds` times `play_minutes` with `rest_minutes` between.
    """

    code = models.UUIDField(default=uuid.uuid4, unique=True)
    student = models.ForeignKey(Student, models.CASCADE, related_name="hand_returns")
    begun_on = models.DateField(_("begun on"))
    cleared_by = models.CharField(_("cleared by"), max_length=120, blank=True)
    level = models.PositiveSmallIntegerField(_("level"), default=1)
    level_since = models.DateField(_("on this level since"))
    play_minutes = models.PositiveSmallIntegerField(_("minutes of playing"), default=5)
    rest_minutes = models.PositiveSmallIntegerField(_("minutes of rest between"), default=60)
    rounds = models.PositiveSmallIntegerField(_("times a day"), default=2)
    barre = models.BooleanField(_("barre chords belong to this step"), default=False)
    # [level, ISO day it began, words, minutes, rest, rounds, barre], oldest first (practice.hand_acts)
    steps = models.JSONField(default=list, blank=True)
    set_by = models.ForeignKey(Teacher, models.SET_NULL, null=True, blank=True, related_name="+")
    ended_on = models.DateField(_("ended on"), null=True, blank=True)
    ended_words = models.CharField(_("how it ended"), max_length=300, blank=True)

    objects = OfStudent.as_manager()

    class Meta:
        ordering = ["-begun_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["student"], condition=Q(ended_on__isnull=True), name="one_open_return_per_student"
            ),
            models.CheckConstraint(condition=Q(level__range=(1, 9)), name="return_level"),
            models.CheckConstraint(
                condition=Q(play_minutes__range=(1, 120), rest_minutes__lte=240, rounds__range=(1, 10)),
                name="return_step_in_range",
            ),
            models.CheckConstraint(condition=Q(level_since__gte=F("begun_on")), name="return_level_since"),
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.begun_on}"

    @property
    def facts(self) -> ReturnFacts:
        """The step that it is on, as the computations see it; words: the teacher's to that step."""
        return ReturnFacts(
            begun_on=self.begun_on,
            level=self.level,
            level_since=self.level_since,
            play_minutes=self.play_minutes,
            rest_minutes=self.rest_minutes,
            rounds=self.rounds,
            barre=self.barre,
            words=self.steps[-1][2] if self.steps else "",
        )


class Song(models.Model):
    """A song of a teacher's song book. chords: as fingered and as typed, symbols or numerals; read when shown."""

    code = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    teacher = models.ForeignKey(Teacher, models.CASCADE, related_name="songs")
    title = models.CharField(_("title"), max_length=160)
    key = models.CharField(_("key"), max_length=20, blank=True)
    capo = models.PositiveSmallIntegerField(_("capo at fret"), default=0, validators=[MaxValueValidator(12)])
    chords = models.TextField(_("chords, as fingered"), max_length=2000)
    level = models.CharField(_("level"), max_length=40, blank=True)
    tags = models.CharField(_("tags"), max_length=200, blank=True, help_text=_("Separated by commas."))
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_at = models.DateTimeField(auto_now=True)

    objects = SongQuerySet.as_manager()

    class Meta:
        ordering = ["title", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(capo__lte=12), name="song_capo"),
            # an import knows a song again by its title
            models.UniqueConstraint(fields=["teacher", "title"], name="one_song_per_title"),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def facts(self) -> SongFacts:
        """The song as the computations see it."""
        return SongFacts(self.title, self.chords, self.key, self.capo, str(self.code))


class Declined(models.Model):
    """A suggestion that the teacher declined for a student; not made again for four weeks (practice.suggest)."""

    class Reason(models.TextChoices):
        LATER = "later", _("later")
        HARD = "hard", _("too hard now")
        KNOWN = "known", _("knows it already")
        OTHER = "other", _("another reason")

    code = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    student = models.ForeignKey(Student, models.CASCADE, related_name="declined")
    # the suggestion's own code in practice.suggest, such as "E-minor@B"
    candidate = models.CharField(max_length=60)
    reason = models.CharField(_("reason"), max_length=5, choices=Reason.choices)
    words = models.CharField(_("your words"), max_length=300, blank=True)
    day = models.DateField()
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(Teacher, models.SET_NULL, null=True, blank=True, related_name="+")

    objects = OfStudent.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["student", "-day"], name="declined_of_student")]

    def __str__(self) -> str:
        return f"{self.student}: {self.candidate}, {self.day}"

    @property
    def refusal(self) -> Refusal:
        """The row as the computations see it."""
        return Refusal(self.candidate, self.day)


class Performance(models.Model):
    """A day on which a student plays for others; the due days of its goals count back from it."""

    code = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    student = models.ForeignKey(Student, models.CASCADE, related_name="performances")
    title = models.CharField(_("occasion"), max_length=120)
    day = models.DateField(_("day"))
    pieces = models.TextField(_("pieces, one on a line"), max_length=1000, blank=True)
    goals = models.ManyToManyField(Goal, blank=True, related_name="performances", verbose_name=_("goals"))
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_at = models.DateTimeField(auto_now=True)

    objects = OfStudent.as_manager()

    class Meta:
        ordering = ["day", "pk"]
        indexes = [models.Index(fields=["student", "day"], name="performances_of_student")]

    def __str__(self) -> str:
        return f"{self.title}, {self.day}"


class TermReport(models.Model):
    """What the teacher wrote for a term's report; all else in the report is computed when it is drawn."""

    code = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    student = models.ForeignKey(Student, models.CASCADE, related_name="term_reports")
    start = models.DateField(_("from"))
    end = models.DateField(_("to, and with"))
    words = models.TextField(
        _("your words"), max_length=2000, blank=True, help_text=_("The family reads this in the report.")
    )
    written_by = models.ForeignKey(Teacher, models.SET_NULL, null=True, blank=True, related_name="+")
    changed_at = models.DateTimeField(auto_now=True)

    objects = OfStudent.as_manager()

    class Meta:
        ordering = ["-end", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["student", "start", "end"], name="one_report_per_term"),
            models.CheckConstraint(condition=Q(end__gte=F("start")), name="report_end_after_start"),
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.start} to {self.end}"
