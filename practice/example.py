"""The example studio: 26 weeks of an invented guitar studio, drawn from a seed, and the truth behind them.

`draw(seed, today)` lets the people of `practice.example_cast` live day by day up to `today` and returns plain
values: the same for the same seed and day, codes and instants included. What a student measures comes from a
learner with a known curve (level = best + (start - best) * exp(-x / tau), x in weeks practised as planned), with
noise, missed weeks, forgetting and a studio that closes for two weeks; `ExampleStudio.stories` says what is true
of each, so that a test can ask whether the pages find it. `store` writes a draw into the database.

On `today` itself only early birds have practised, and no lesson has been held yet.
"""

import datetime as dt
import math
import random
import uuid
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F

from practice import example_cast as cast
from practice.example_cast import Ache, Aim, Curve, Person
from practice.example_songs import SONGS
from practice.facts import EntryFacts, GoalFacts, HandFacts, Mark, PerformanceFacts, ReturnFacts, StudentFacts
from practice.handreturn import STEPS
from practice.measures import MEASURES
from practice.models import (
    Goal,
    HandNote,
    HandReturn,
    Performance,
    PracticeEntry,
    Result,
    Segment,
    Song,
    TellTeacher,
    TermReport,
)
from students import calendar, consent
from students.models import Consent, Guardian, Guardianship, Lesson, Student, Studio, Teacher, User
from studio import theory

SEED = 2
# Sign-in of both teachers. The studio is invented and the demo listens on this machine only.
PASSWORD = "six-strings-alder-lane"
OWNER_EMAIL = cast.OWNER.email
TEACHER_EMAIL = cast.SECOND.email
# Whose personal links the demo prints: a child and her guardian.
LINK_STUDENT = cast.WREN.name
LINK_GUARDIAN = cast.MAEVE.name
# What is on the instruments: strings and gauge, by instrument (common practice, no source)
STRINGS = {
    "classical": ("nylon", "normal tension"),
    "steel-string": ("steel", ".012 to .053"),
    "electric": ("steel", ".010 to .046"),
    "three-quarter": ("nylon", "normal tension"),
    "half-size": ("nylon", ""),
}

ZONE = ZoneInfo(cast.ZONE)
DAY = dt.timedelta(days=1)
WEEK = dt.timedelta(days=7)
# On the last day a session counts only if it was over by then.
EARLY = dt.time(8, 0)


# -- what is drawn ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ExampleTeacher:
    code: uuid.UUID
    name: str
    email: str
    is_owner: bool


@dataclass(frozen=True)
class ExampleGuardian:
    code: uuid.UUID
    name: str
    email: str


@dataclass(frozen=True)
class ExampleStudent:
    """Fields as in students.models.Student; teacher and guardians by name."""

    code: uuid.UUID
    name: str
    birth_year: int | None
    teacher: str
    guardians: tuple[str, ...]
    joined: dt.date
    status: str
    left_on: dt.date | None
    instrument: str
    plays: str
    lesson_weekday: int
    lesson_time: dt.time
    lesson_minutes: int
    lesson_every: int
    lesson_anchor: dt.date | None
    plan_days: int
    plan_minutes: int
    daily_most: int

    @property
    def guitar(self) -> theory.Instrument:
        return theory.INSTRUMENTS[self.instrument].with_(plays=self.plays)

    def hand(self, today: dt.date) -> theory.Hand:
        return theory.Hand.of(size=None, age=consent.age_in_years(self.birth_year, today))


@dataclass(frozen=True)
class ExampleGoal:
    """key: short name, unique for its student. acknowledged: codes of the cautions it was set with."""

    code: uuid.UUID
    student: str
    key: str
    goal: theory.Goal
    measure: str
    target: float
    start_value: float
    day: dt.date
    created_at: dt.datetime
    due: dt.date
    words: str
    set_aside_at: dt.datetime | None
    acknowledged: tuple[str, ...]


@dataclass(frozen=True)
class ExampleResult:
    goal: uuid.UUID
    day: dt.date
    at: dt.datetime
    measure: str
    value: float
    failed_strings: tuple[int, ...] = ()


@dataclass(frozen=True)
class ExampleEntry:
    """segments: (goal code, seconds); results: with this entry."""

    code: uuid.UUID
    student: str
    begun: dt.datetime
    seconds: int
    day: dt.date
    by: str
    by_name: str
    tiring: int | None
    note: str
    stored_at: dt.datetime
    segments: tuple[tuple[uuid.UUID, int], ...]
    results: tuple[ExampleResult, ...]

    @property
    def ended(self) -> dt.datetime:
        return self.begun + dt.timedelta(seconds=self.seconds)


@dataclass(frozen=True)
class ExampleLesson:
    code: uuid.UUID
    student: str
    day: dt.date
    time: dt.time
    minutes: int
    outcome: str
    words: str
    recorded_at: dt.datetime
    checks: tuple[ExampleResult, ...]


@dataclass(frozen=True)
class ExampleNote:
    """A hand note; entry: code of the session it came with, None for one by itself."""

    code: uuid.UUID
    student: str
    entry: uuid.UUID | None
    at: dt.datetime
    day: dt.date
    by: str
    discomfort: int
    hand: str = ""
    place: str = ""
    sensation: str = ""
    settles: str = ""
    seen_at: dt.datetime | None = None
    closed_at: dt.datetime | None = None
    closed_words: str = ""
    cleared_by: str = ""
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class ExampleReturn:
    """A stepwise return on its second step; days and words of both."""

    code: uuid.UUID
    student: str
    begun_on: dt.date
    level_since: dt.date
    cleared_by: str
    words: tuple[str, str]

    @property
    def facts(self) -> ReturnFacts:
        step = STEPS[2]
        return ReturnFacts(
            self.begun_on, 2, self.level_since, step.play, step.rest, step.rounds, words=self.words[1]
        )


@dataclass(frozen=True)
class ExampleConsent:
    student: str
    given_by: str
    guardian: str | None
    name: str
    given_at: dt.datetime
    way: str


@dataclass(frozen=True)
class ExampleTell:
    code: uuid.UUID
    student: str
    at: dt.datetime
    by: str


@dataclass(frozen=True)
class ExamplePerformance:
    """made_at: when it was put down."""

    code: uuid.UUID
    student: str
    title: str
    day: dt.date
    pieces: tuple[str, ...]
    goals: tuple[uuid.UUID, ...]
    made_at: dt.datetime


@dataclass(frozen=True)
class ExampleTermReport:
    """What a teacher wrote for a term, and when."""

    code: uuid.UUID
    student: str
    start: dt.date
    end: dt.date
    words: str
    written_at: dt.datetime


@dataclass(frozen=True)
class Story:
    """What is true of one student, for tests.

    key: the story; student: name; goal: code of the goal it is about.
    level, best: true level of the learner on the last day and where it tends, in the unit of the measure.
    rate: what it truly gained a week over the last four weeks. gain_share: the same four weeks' gain as a part
    of the range from the goal's start to its target. since: the day a plateau, a rise, a pause or a silence
    began. figures: other numbers, named.
    """

    key: str
    student: str
    goal: uuid.UUID | None
    goal_key: str
    level: float | None
    best: float | None
    rate: float | None
    gain_share: float | None
    since: dt.date | None
    figures: Mapping[str, float]


@dataclass(frozen=True)
class ExampleStudio:
    """Everything drawn. stories: by key (the first student's where several share one); of: by student's name."""

    seed: int
    today: dt.date
    code: uuid.UUID
    name: str
    zone: str
    safeguarding_contact: str
    teachers: tuple[ExampleTeacher, ...]
    guardians: tuple[ExampleGuardian, ...]
    students: tuple[ExampleStudent, ...]
    consents: tuple[ExampleConsent, ...]
    goals: tuple[ExampleGoal, ...]
    lessons: tuple[ExampleLesson, ...]
    entries: tuple[ExampleEntry, ...]
    notes: tuple[ExampleNote, ...]
    tells: tuple[ExampleTell, ...]
    stories: Mapping[str, Story]
    of: Mapping[str, Story] = field(default_factory=dict)
    performances: tuple[ExamplePerformance, ...] = ()
    term_reports: tuple[ExampleTermReport, ...] = ()
    returns: tuple[ExampleReturn, ...] = ()

    def student(self, name: str) -> ExampleStudent:
        return next(student for student in self.students if student.name == name)

    def goals_of(self, name: str) -> list[ExampleGoal]:
        return [goal for goal in self.goals if goal.student == name]

    def entries_of(self, name: str) -> list[ExampleEntry]:
        return [entry for entry in self.entries if entry.student == name]

    def lessons_of(self, name: str) -> list[ExampleLesson]:
        return [lesson for lesson in self.lessons if lesson.student == name]

    def notes_of(self, name: str) -> list[ExampleNote]:
        return [note for note in self.notes if note.student == name]

    def facts(self, name: str) -> StudentFacts:
        """One student's facts as `practice.queries.student_facts` reads them once the draw is stored."""
        return _facts(self, name)


# -- drawing ---------------------------------------------------------------------------------------------------


def draw(seed: int, today: dt.date) -> ExampleStudio:
    """The example studio with 26 full weeks and the days of the current one up to `today`.

    Pure: the same for the same seed and day. Each person has a random stream of their own.
    """
    rng = random.Random(f"{seed}:studio")
    teachers = tuple(
        ExampleTeacher(_code(rng), tutor.name, tutor.email, tutor.is_owner) for tutor in (cast.OWNER, cast.SECOND)
    )
    kin = {relative.name: relative for person in cast.PEOPLE for relative in person.kin}
    guardians = tuple(ExampleGuardian(_code(rng), one.name, one.email) for one in kin.values())
    code = _code(rng)
    lives = [_Life(person, random.Random(f"{seed}:{person.name}"), today) for person in cast.PEOPLE]
    for life in lives:
        life.live()
    stories: dict[str, Story] = {}
    for life in lives:
        stories.setdefault(life.person.story, life.story())
    return ExampleStudio(
        seed=seed,
        today=today,
        code=code,
        name=cast.STUDIO,
        zone=cast.ZONE,
        safeguarding_contact=cast.SAFEGUARDING,
        teachers=teachers,
        guardians=guardians,
        students=tuple(life.row for life in lives),
        consents=tuple(given for life in lives for given in life.consents),
        goals=tuple(learner.goal for life in lives for learner in life.learners),
        lessons=tuple(lesson for life in lives for lesson in life.lessons),
        entries=tuple(entry for life in lives for entry in life.entries),
        notes=tuple(note for life in lives for note in life.notes),
        tells=tuple(tell for life in lives for tell in life.tells),
        stories=stories,
        of={life.person.name: life.story() for life in lives},
        performances=tuple(_performances(seed, today, lives)),
        term_reports=tuple(_term_reports(seed, lives)),
        returns=tuple(_returns(seed, today, lives)),
    )


def _performances(seed: int, today: dt.date, lives: "Sequence[_Life]") -> Iterator[ExamplePerformance]:
    """From a random stream of their own, so that nobody's weeks hang on them."""
    for life in lives:
        rng = random.Random(f"{seed}:{life.person.name}:performances")
        goals = {learner.goal.key: learner.goal for learner in life.learners}
        for show in cast.PERFORMANCES.get(life.person.name, ()):
            mine = [goals[key] for key in show.goals]
            yield ExamplePerformance(
                code=_code(rng),
                student=life.person.name,
                title=show.title,
                day=today + show.days * DAY,
                pieces=show.pieces,
                goals=tuple(goal.code for goal in mine),
                made_at=min(goal.created_at for goal in mine),
            )


def _term_reports(seed: int, lives: "Sequence[_Life]") -> Iterator[ExampleTermReport]:
    """For a term of fifteen weeks, of which two are still to come; written after the last lesson."""
    for life in lives:
        if words := cast.TERM_WORDS.get(life.person.name):
            rng = random.Random(f"{seed}:{life.person.name}:term-reports")
            start, end = life.week - 12 * WEEK, life.week + 3 * WEEK - DAY
            written_at = _later(life.lessons[-1].day, life.lesson_time, life.lesson_minutes)
            yield ExampleTermReport(_code(rng), life.person.name, start, end, words, written_at)


def _returns(seed: int, today: dt.date, lives: "Sequence[_Life]") -> Iterator[ExampleReturn]:
    for life in lives:
        if back := life.person.back:
            rng = random.Random(f"{seed}:{life.person.name}:returns")
            begun, up = today - back.days * DAY, today - back.up * DAY
            yield ExampleReturn(_code(rng), life.person.name, begun, up, back.cleared_by, back.words)


def _code(rng: random.Random) -> uuid.UUID:
    return uuid.UUID(int=rng.getrandbits(128), version=4)


def _instant(day: dt.date, time: dt.time) -> dt.datetime:
    """The studio's local time on a day as an instant in UTC."""
    return dt.datetime.combine(day, time, tzinfo=ZONE).astimezone(dt.UTC)


def _later(day: dt.date, time: dt.time, minutes: float) -> dt.datetime:
    return _instant(day, time) + dt.timedelta(minutes=minutes)


class _Learner:
    """One student at one goal: how far practice has brought them, and what a measurement would show today."""

    def __init__(self, aim: Aim, goal: ExampleGoal, voicings: Sequence[theory.Voicing], weekly: float):
        self.aim = aim
        self.goal = goal
        self.voicings = voicings
        self.weekly = weekly  # planned minutes a week
        self.practised = 0.0  # weeks, as planned
        self.last: dt.date | None = None  # last practised
        self.slipped = 1.0
        self.history: list[tuple[dt.date, float]] = []  # true level at the end of each day

    def level(self, curve: Curve | None = None) -> float:
        curve = curve or self.aim.curve
        level = curve.best + (curve.start - curve.best) * math.exp(-self.practised / curve.tau)
        return level * self.slipped

    def practise(self, day: dt.date, seconds: float) -> None:
        self.practised += seconds / 60 / self.weekly
        self.last = day

    def end_of_day(self, day: dt.date, forget: float) -> None:
        """Two days off cost nothing; after that a little goes each day."""
        if self.last is not None and (day - self.last).days > 2:
            self.practised *= 1 - forget
        self.history.append((day, self.level()))

    def level_on(self, day: dt.date) -> float:
        known = [level for when, level in self.history if when <= day]
        return known[-1] if known else self.aim.curve.start

    def measure(self, curve: Curve, rng: random.Random) -> tuple[float, tuple[int, ...]]:
        """One measurement and, of clean strings, which failed."""
        value = min(self.level(curve) + rng.gauss(0, curve.noise), curve.most)
        spec = MEASURES[curve.measure]
        if curve.measure == "clean":
            strings = self.voicings[0].sounding
            whole = min(max(round(value), 0), len(strings))
            failed = _failed(self.voicings[0], len(strings) - whole, rng)
            return float(whole), failed
        if curve.measure == "changes":
            value = 2 * round(value / 2)  # counted over 30 s and doubled
        return float(min(max(round(value), spec.lowest), spec.highest)), ()


def _failed(voicing: theory.Voicing, count: int, rng: random.Random) -> tuple[int, ...]:
    """Which strings failed: those that the index holds alone under a barre fail first."""
    fingers = {string: voicing.fingers[len(voicing.fingers) - string] for string in voicing.sounding}
    held = [string for string, finger in fingers.items() if finger == 1]
    weights = {
        string: 4.0 if len(held) > 1 and finger == 1 else 1.0 if finger else 1.6 for string, finger in fingers.items()
    }
    chosen: list[int] = []
    while len(chosen) < count:
        left = [string for string in fingers if string not in chosen]
        chosen += rng.choices(left, [weights[string] for string in left])
    return tuple(sorted(chosen, reverse=True))


REMARKS = (
    "Played it for my sister.",
    "The tuner battery was flat, so I tuned to the piano.",
    "Short one today.",
    "The metronome at 60 felt better than at 66.",
    "New strings. Everything sounds brighter.",
    "I looked away from my hand and it still worked.",
    "String 1 still buzzes when I hurry.",
    "Practised in the kitchen.",
    "Can we look at the last line on the day?",
)
LESSON_WORDS = (
    "Slower, with the metronome on two and four.",
    "Left the change at half tempo for another week.",
    "Thumb behind the second finger; the rest followed.",
    "Sang the roots before playing them.",
    "Nut slot of string 2 looks low. Ask about a set-up.",
    "Counted aloud for the first time without being asked.",
    "Began the second line. Kept the first as warm-up.",
)


class _Life:
    """One person lived day by day: lessons with checks, sessions with results, hand notes."""

    def __init__(self, person: Person, rng: random.Random, today: dt.date):
        self.person = person
        self.rng = rng
        self.today = today
        self.week = calendar.week_of(today)
        self.start = self.week - cast.WEEKS * WEEK
        self.weekday, self.lesson_time, self.lesson_minutes = person.slot
        self.anchor = self.week + self.weekday * DAY if person.every == 2 else None
        self.missed = self._missed_weeks()
        self.row = self._row()
        self.consents = self._consents()
        self.learners = self._learners()
        self.lessons: list[ExampleLesson] = []
        self.entries: list[ExampleEntry] = []
        self.notes: list[ExampleNote] = []
        self.tells: list[ExampleTell] = []
        self.tried: set[tuple[uuid.UUID, str, dt.date]] = set()
        self.checked: dict[uuid.UUID, dt.date] = {}
        self.chances: list[float] = []

    # who they are

    def _row(self) -> ExampleStudent:
        person = self.person
        joined = self._lesson_near(person.joined_weeks)
        days, minutes, most = person.plan
        return ExampleStudent(
            code=_code(self.rng),
            name=person.name,
            birth_year=None if person.age is None else self.today.year - person.age,
            teacher=person.tutor.name,
            guardians=tuple(relative.name for relative in person.kin),
            joined=joined,
            status=person.status,
            left_on=self.today - 7 * person.left_weeks * DAY if person.status == "archived" else None,
            instrument=person.instrument,
            plays=person.plays,
            lesson_weekday=self.weekday,
            lesson_time=self.lesson_time,
            lesson_minutes=self.lesson_minutes,
            lesson_every=person.every,
            lesson_anchor=self.anchor,
            plan_days=days,
            plan_minutes=minutes,
            daily_most=most,
        )

    def _consents(self) -> list[ExampleConsent]:
        """Given on the eve of the first week here, or on the day of joining."""
        person = self.person
        if not person.consent:
            return []
        given_at = _instant(max(self.start - DAY, self.row.joined), dt.time(7, 5))
        if person.kin:
            way = "paper" if self.rng.random() < 0.3 else "link"
            first = person.kin[0].name
            return [ExampleConsent(person.name, consent.GUARDIAN, first, first, given_at, way)]
        return [ExampleConsent(person.name, consent.STUDENT, None, person.name, given_at, "link")]

    def _missed_weeks(self) -> frozenset[int]:
        if self.person.missed is not None:
            return frozenset(self.person.missed)
        return frozenset(self.rng.sample(range(4, cast.WEEKS), 2))

    # what they work at

    def _lesson_near(self, weeks: int) -> dt.date:
        """The lesson day of the week `weeks` ago, or the last one before: held, and past."""
        day = self.week - weeks * WEEK + self.weekday * DAY
        while (
            not calendar.is_lesson_day(day, self.weekday, self.person.every, self.anchor)
            or day >= self.today
            or self._weeks_ago(day) in cast.CLOSED
        ):
            day -= WEEK
        return day

    def _due(self, aim: Aim) -> dt.date:
        if aim.due_days is not None:
            return self.today + aim.due_days * DAY
        lessons = math.ceil(aim.due_weeks / self.person.every)
        return self._next_lesson() + lessons * self.person.every * WEEK

    def _next_lesson(self) -> dt.date:
        """The first lesson day on or after the last day of the data."""
        return next(calendar.lesson_days(self.today, self.weekday, self.person.every, self.anchor))

    def _learners(self) -> list["_Learner"]:
        guitar = self.row.guitar
        hand = self.row.hand(self.today)
        shares = sum(aim.share for aim in self.person.aims if aim.aside_weeks is None)
        weekly = self.person.plan[0] * self.person.plan[1]
        learners: list[_Learner] = []
        for aim in sorted(self.person.aims, key=lambda aim: -aim.set_weeks):
            day = max(self._lesson_near(aim.set_weeks), self.row.joined)
            aside = None if aim.aside_weeks is None else self._lesson_near(aim.aside_weeks)
            active = [other.goal.goal for other in learners if other.goal.set_aside_at is None]
            barred = any(voicing.has_barre for other in learners for voicing in other.voicings)
            findings = theory.validate(
                aim.goal, guitar, hand, theory.Context(new_to_barres=not barred, active_goals=tuple(active))
            )
            voicings = [term.voicing(aim.goal.on(guitar)) for term in aim.goal.chords]
            learners.append(
                _Learner(
                    aim,
                    ExampleGoal(
                        code=_code(self.rng),
                        student=self.person.name,
                        key=aim.key,
                        goal=aim.goal,
                        measure=aim.curve.measure,
                        target=aim.target,
                        start_value=_start_value(aim.curve),
                        day=day,
                        # set one after the other at the end of the lesson
                        created_at=_later(day, self.lesson_time, self.lesson_minutes - 10 + len(learners)),
                        due=self._due(aim),
                        words=aim.words,
                        set_aside_at=None
                        if aside is None
                        else _later(aside, self.lesson_time, self.lesson_minutes - 2),
                        acknowledged=tuple(dict.fromkeys(found.code for found in findings if not found.is_error)),
                    ),
                    voicings,
                    weekly * aim.share / shares,
                )
            )
        return learners

    def _at_work(self, day: dt.date) -> list[_Learner]:
        """Goals that are set and neither set aside nor left to rest on a day; on the way back notes to find alone."""
        return [
            learner
            for learner in self.learners
            if learner.goal.day <= day
            and (self._step(day) is None or learner.goal.goal.kind == "roots")
            and (learner.goal.set_aside_at is None or day <= learner.goal.set_aside_at.date())
            and (learner.aim.rest_weeks is None or self._weeks_ago(day) >= learner.aim.rest_weeks)
        ]

    # living

    def _weeks_ago(self, day: dt.date) -> int:
        return (self.week - calendar.week_of(day)).days // 7

    def _days_ago(self, day: dt.date) -> int:
        return (self.today - day).days

    def _rests(self, day: dt.date) -> bool:
        """Whether the hand has stopped all playing on a day after which it was noted."""
        stopped = self.person.stopped
        return stopped is not None and stopped[1] < self._days_ago(day) < stopped[0]

    def _step(self, day: dt.date) -> int | None:
        """The level of a return on a day, None without one."""
        back, ago = self.person.back, self._days_ago(day)
        if back is None or ago > back.days:
            return None
        return 2 if ago <= back.up else 1

    def live(self) -> None:
        day = max(self.start, self.row.joined)
        while day <= self.today:
            for learner in self.learners:
                slip = learner.aim.slip
                if slip and self._weeks_ago(day) <= slip[0]:
                    learner.slipped = slip[1]
            begun = self._session_time(day)
            lesson = self._is_lesson(day)
            if lesson and begun is not None and begun >= self.lesson_time:
                self._lesson(day)
                self._session(day, begun)
            else:
                if begun is not None:
                    self._session(day, begun)
                if lesson:
                    self._lesson(day)
            self._hand_alone(day)
            for learner in self.learners:
                if learner.goal.day <= day:
                    learner.end_of_day(day, self.person.forget)
            day += DAY
        self._see_notes()
        if self.person.told_days is not None:
            day = self.today - self.person.told_days * DAY
            self.tells.append(ExampleTell(_code(self.rng), self.person.name, _instant(day, dt.time(18, 5)), "student"))

    # lessons

    def _is_lesson(self, day: dt.date) -> bool:
        left = self.person.left_weeks
        return (
            day < self.today
            and calendar.is_lesson_day(day, self.weekday, self.person.every, self.anchor)
            and (left is None or self._weeks_ago(day) > left)
        )

    def _outcome(self, day: dt.date) -> str:
        weeks = self._weeks_ago(day)
        if weeks in cast.CLOSED:
            return "called-off-studio"
        set_here = any(
            day == learner.goal.day
            or (learner.goal.set_aside_at is not None and day == learner.goal.set_aside_at.date())
            for learner in self.learners
        )
        if set_here:
            return "held"
        if self._rests(day):
            return "called-off"
        if weeks in self.person.absent_weeks:
            return "not-come" if weeks % 2 else "called-off-late"
        if self.person.surge and day == self._last_lesson():
            return "called-off-studio"  # nobody looked at the hand last time
        return self.rng.choices(
            ("held", "called-off", "called-off-late", "not-come", "called-off-studio"), (90, 5, 2, 1.5, 1.5)
        )[0]

    def _last_lesson(self) -> dt.date:
        return self._lesson_near(0)

    def _lesson(self, day: dt.date) -> None:
        outcome = self._outcome(day)
        checks: list[ExampleResult] = []
        words = ""
        if outcome == "held":
            # goals that wait longest for a check come first
            waiting = sorted(
                (learner for learner in self._at_work(day) if learner.goal.day < day),
                key=lambda learner: self.checked.get(learner.goal.code, learner.goal.day),
            )
            for learner in waiting[: 3 if self.person.every == 2 else 2]:
                at = _later(day, self.lesson_time, 6 + 5 * len(checks))
                result = self._measured(learner, learner.aim.curve, day, at)
                if result is not None:
                    checks.append(result)
                    self.checked[learner.goal.code] = day
            if self.rng.random() < 0.3:
                words = self.rng.choice(LESSON_WORDS)
        self.lessons.append(
            ExampleLesson(
                code=_code(self.rng),
                student=self.person.name,
                day=day,
                time=self.lesson_time,
                minutes=self.lesson_minutes,
                outcome=outcome,
                words=words,
                recorded_at=_later(day, self.lesson_time, self.lesson_minutes),
                checks=tuple(checks),
            )
        )

    def _measured(self, learner: _Learner, curve: Curve, day: dt.date, at: dt.datetime) -> ExampleResult | None:
        """A measurement, unless the measure takes the day's first try and that is over."""
        once = (learner.goal.code, curve.measure, day)
        if once in self.tried:
            return None
        self.tried.add(once)
        value, failed = learner.measure(curve, self.rng)
        return ExampleResult(learner.goal.code, day, at, curve.measure, value, failed)

    # sessions

    def _surging(self, day: dt.date) -> bool:
        return self.person.surge is not None and self._days_ago(day) < self.person.surge[0]

    def _session_time(self, day: dt.date) -> dt.time | None:
        """When a session begins on this day, or None."""
        if not self._practises(day):
            return None
        usual = self.person.at
        minute = usual.hour * 60 + usual.minute + round(self.rng.gauss(0, 18))
        if self._surging(day):
            minute -= 30
        minute = min(max(minute, 6 * 60 + 15), 21 * 60 + 30)
        if day == self.today and minute + 1.5 * self.person.minutes > EARLY.hour * 60:
            return None
        if self._is_lesson(day):
            begin = self.lesson_time.hour * 60 + self.lesson_time.minute
            if begin - 1.8 * self._usual_minutes(day) < minute < begin + self.lesson_minutes + 20:
                minute = begin + self.lesson_minutes + 40
        return dt.time(minute // 60, minute % 60)

    def _practises(self, day: dt.date) -> bool:
        person, chance = self.person, self._chance(day)
        ago, weeks = self._days_ago(day), self._weeks_ago(day)
        if person.last_days is not None and ago <= person.last_days:
            return ago == person.last_days
        if self._rests(day):
            return False
        if any(ache.days == ago and not ache.alone for ache in person.aches):
            return True
        if self._step(day) is not None:
            return ago > 0 and ago % 3 != 2
        if self._surging(day):
            return chance < 0.93
        if weeks in self.missed:
            return False
        habit = person.habit[day.weekday()]
        if weeks in cast.CLOSED:
            return chance < 0.5 * habit
        last = self.entries[-1].day if self.entries else None
        if sum(person.habit) > 0 and last is not None and (day - last).days > person.most_gap and ago > 0:
            return True  # nobody here who is said to practise stays away for longer
        if person.last_days is None and ago == 1 and person.most_gap < 7 and last is not None and (day - last).days > 2:
            return True
        return chance < habit

    def _chance(self, day: dt.date) -> float:
        """A number from 0 to 1 for the day. The seven of a week are spread evenly, so that habits hold: who
        practises five days of seven seldom makes it three or seven."""
        if not self.chances or day.weekday() == 0:
            order = self.rng.sample(range(7), 7)
            self.chances = [(place + self.rng.random()) / 7 for place in order]
        return self.chances[day.weekday()]

    def _usual_minutes(self, day: dt.date) -> float:
        if self._surging(day):
            assert self.person.surge is not None
            days, most = self.person.surge
            return self.person.minutes + (most - self.person.minutes) * (1 - self._days_ago(day) / days)
        return self.person.minutes

    def _session(self, day: dt.date, begun: dt.time) -> None:
        person, rng = self.person, self.rng
        usual = self._usual_minutes(day)
        seconds = round(60 * usual * min(max(rng.gauss(1, 0.16), 0.5), 1.4))
        level = self._step(day)
        if level is not None:  # the turns of a day together
            seconds = 60 * STEPS[level].play * STEPS[level].rounds
        by = person.by if rng.random() < person.by_share else "student"
        if by == "paper":
            seconds = max(300, round(seconds / 300) * 300)
        elif by == "parent":
            seconds = max(60, round(seconds / 60) * 60)
        start = _instant(day, begun)
        shares = self._shares(day, seconds)
        at, results, segments = start + dt.timedelta(seconds=seconds * 0.06), [], []
        for learner, part in shares:
            if by != "paper" and rng.random() < learner.aim.report:
                curves = [learner.aim.curve, *(curve for curve in learner.aim.also if rng.random() < 0.6)]
                for number, curve in enumerate(curves):
                    result = self._measured(learner, curve, day, at + dt.timedelta(seconds=20 + 25 * number))
                    if result is not None:
                        results.append(result)
            learner.practise(day, part)
            segments.append((learner.goal.code, part))
            at += dt.timedelta(seconds=part)
        end = start + dt.timedelta(seconds=seconds)
        tiring = self._tiring(day, seconds / 60, by)
        note = rng.choice(REMARKS) if rng.random() < 0.05 and by == "student" else ""
        stored = end + dt.timedelta(seconds=rng.randint(8, 50))
        if by == "paper":  # handed over at the next lesson
            following = next(calendar.lesson_days(day + DAY, self.weekday, person.every, self.anchor))
            stored = min(_later(following, self.lesson_time, 5), _instant(self.today, dt.time(6, 0)))
            stored = max(stored, end)
        entry = ExampleEntry(
            code=_code(rng),
            student=person.name,
            begun=start,
            seconds=seconds,
            day=day,
            by=by,
            by_name={"parent": person.kin[0].name if person.kin else "", "paper": person.tutor.name}.get(by, ""),
            tiring=tiring,
            note=note,
            stored_at=stored,
            # a paper week has minutes by day and no more
            segments=() if by == "paper" else tuple(segments),
            results=tuple(results),
        )
        self.entries.append(entry)
        self._hand(entry)

    def _shares(self, day: dt.date, seconds: int) -> list[tuple[_Learner, int]]:
        """Which goals a session is spent on, and how long: at most four, those that wait longest more likely."""
        rng = self.rng
        ready = self._at_work(day)
        weights = {
            learner.goal.code: learner.aim.share * (1 + min(self._idle(learner, day), 6) / 2) for learner in ready
        }
        chosen: list[_Learner] = []
        most = 2 + (seconds > 14 * 60) + (seconds > 26 * 60)
        while ready and len(chosen) < most:
            learner = rng.choices(ready, [weights[one.goal.code] for one in ready])[0]
            ready.remove(learner)
            chosen.append(learner)
        chosen.sort(key=lambda learner: self.learners.index(learner))
        parts = [learner.aim.share * rng.uniform(0.75, 1.25) for learner in chosen]
        played = seconds * rng.uniform(0.84, 0.93)  # the rest is warming up
        return [
            (learner, max(60, int(played * part / sum(parts)))) for learner, part in zip(chosen, parts, strict=True)
        ]

    def _idle(self, learner: _Learner, day: dt.date) -> int:
        return (day - (learner.last or learner.goal.day)).days

    def _tiring(self, day: dt.date, minutes: float, by: str) -> int | None:
        rng = self.rng
        value = self.person.tiring + 1.2 * (minutes / self.person.minutes - 1) + rng.gauss(0, 0.7)
        if self._surging(day):
            assert self.person.surge is not None
            value += 2.2 * (1 - self._days_ago(day) / self.person.surge[0])
        answered = rng.random() < 0.96
        if not self.person.consent or by == "paper" or not answered:
            return None
        return min(max(round(value), 0), 10)

    # hands

    def _hand(self, entry: ExampleEntry) -> None:
        """The hand notes of this session: what the story says, else now and then that all is well."""
        rng, person = self.rng, self.person
        well = rng.random() < 0.22
        ago = self._days_ago(entry.day)
        code = _code(rng)
        if not person.consent or entry.by == "paper":
            return
        at = entry.ended + dt.timedelta(seconds=5)
        for ache in person.aches:
            if ache.days == ago:
                self.notes.append(self._felt(ache, code, entry.code, at, entry.day, entry.by))
                return
        # each day of a return says how the hand is
        well = well and not any(ache.days - 3 <= ago <= ache.days + 14 for ache in person.aches)
        if well or self._step(entry.day) is not None:
            self.notes.append(ExampleNote(code, person.name, entry.code, at, entry.day, entry.by, 0))

    def _hand_alone(self, day: dt.date) -> None:
        """A note by itself, from whoever is at home."""
        for ache in self.person.aches:
            if ache.alone and ache.days == self._days_ago(day):
                by = "parent" if self.person.kin else "student"
                at = _instant(day, dt.time(19, 20))
                self.notes.append(self._felt(ache, _code(self.rng), None, at, day, by))

    def _felt(
        self, ache: Ache, code: uuid.UUID, entry: uuid.UUID | None, at: dt.datetime, day: dt.date, by: str
    ) -> ExampleNote:
        return ExampleNote(
            code,
            self.person.name,
            entry,
            at,
            day,
            by,
            ache.discomfort,
            hand=ache.hand,
            place=ache.place,
            sensation=ache.sensation,
            settles=ache.settles,
            closed_at=None if ache.closed_after is None else at + ache.closed_after * DAY,
            closed_words=ache.closed_words,
            cleared_by=ache.cleared_by,
            also=ache.also,
        )

    def _see_notes(self) -> None:
        """Notes are seen at the next lesson that was held, except those that the story keeps unseen."""
        unseen = {self.today - ache.days * DAY for ache in self.person.aches if not ache.seen}
        held = [_later(les.day, les.time, 0) for les in self.lessons if les.outcome == "held"]

        def seen(note: ExampleNote) -> ExampleNote:
            at = next((at for at in held if at > note.at), None)
            if at is None and note.discomfort < 2:
                at = note.at  # "all is well" waits for nobody
            if note.day in unseen and note.discomfort:
                at = None
            return replace(note, seen_at=at if at is None or note.closed_at is None else min(at, note.closed_at))

        self.notes = [seen(note) for note in self.notes]

    # the truth

    def story(self) -> Story:
        person = self.person
        learner = next((one for one in self.learners if one.goal.key == person.star), None)
        level = best = rate = gain = None
        since: dt.date | None = None
        figures: dict[str, float] = {
            "entries": len(self.entries),
            "minutes_28_days": sum(e.seconds for e in self.entries if self._days_ago(e.day) < 28) / 60,
        }
        if self.entries:
            figures["days_since_last_entry"] = self._days_ago(self.entries[-1].day)
        if learner is not None and learner.history:
            curve = learner.aim.curve
            level, best = learner.level(), curve.best * learner.slipped
            before = learner.level_on(self.today - 4 * WEEK)
            rate = (level - before) / 4
            gain = abs(level - before) / (abs(learner.goal.target - learner.goal.start_value) or 1)
            since = learner.goal.day
            if person.story == "stuck-barre":
                # from the day on which what was still to come fell below a tenth of the way to the target
                room = 0.1 * abs(learner.goal.target - curve.start)
                since = next((day for day, at in learner.history if abs(at - curve.best) < room), since)
                figures["minutes_on_goal_28_days"] = (
                    sum(
                        seconds
                        for entry in self.entries
                        if self._days_ago(entry.day) < 28
                        for code, seconds in entry.segments
                        if code == learner.goal.code
                    )
                    / 60
                )
            if learner.aim.slip:
                since = self.week - learner.aim.slip[0] * WEEK
        if person.story == "over-practiser":
            since = next(note.day for note in self.notes if note.place == "wrist")
            figures["worst"] = max(note.discomfort for note in self.notes)
        if person.last_days is not None and self.entries:
            since = self.entries[-1].day
        return Story(
            key=person.story,
            student=person.name,
            goal=learner.goal.code if learner else None,
            goal_key=person.star,
            level=level,
            best=best,
            rate=rate,
            gain_share=gain,
            since=since,
            figures=figures,
        )


def _start_value(curve: Curve) -> float:
    spec = MEASURES[curve.measure]
    return float(min(max(round(curve.start), spec.lowest), spec.highest))


def _facts(example: ExampleStudio, name: str) -> StudentFacts:
    student, today = example.student(name), example.today
    goals = sorted(example.goals_of(name), key=lambda goal: goal.created_at)
    shows = sorted((one for one in example.performances if one.student == name), key=lambda one: one.day)
    marks: dict[uuid.UUID, list[Mark]] = defaultdict(list)
    practised: dict[uuid.UUID, list[tuple[dt.date, int]]] = defaultdict(list)
    made = [(result, True) for lesson in example.lessons_of(name) for result in lesson.checks]
    made += [(result, False) for entry in example.entries_of(name) for result in entry.results]
    for result, check in sorted(made, key=lambda one: (one[0].day, one[0].at)):
        marks[result.goal].append(
            Mark(result.day, result.at, result.measure, result.value, check, result.failed_strings)
        )
    for entry in example.entries_of(name):
        for goal, seconds in entry.segments:
            practised[goal].append((entry.day, seconds))
    return StudentFacts(
        name=student.name,
        first_name=student.name.split()[0],
        joined=student.joined,
        instrument=student.guitar,
        hand=student.hand(today),
        plan_days=student.plan_days,
        plan_minutes=student.plan_minutes,
        daily_most=student.daily_most,
        age=consent.age_in_years(student.birth_year, today),
        minor=consent.is_minor(student.birth_year, today),
        hand_consent=any(given.student == name for given in example.consents),
        next_lesson=calendar.next_lesson_day(
            today, student.lesson_weekday, student.lesson_every, student.lesson_anchor
        ),
        goals=tuple(
            GoalFacts(
                code=str(goal.code),
                kind=goal.goal.kind,
                theory=theory.Goal.from_terms(goal.goal.to_terms()),
                title=goal.goal.title_text(),
                measure=MEASURES[goal.measure],
                target=goal.target,
                set_on=goal.day,
                due=goal.due,
                start_value=goal.start_value,
                set_aside=goal.set_aside_at is not None,
                set_aside_on=goal.set_aside_at and goal.set_aside_at.date(),
                words=goal.words,
                marks=tuple(marks[goal.code]),
                practised=tuple(practised[goal.code]),
                kept_for=tuple(
                    (one.made_at.astimezone(ZONE).date(), one.day) for one in shows if goal.code in one.goals
                ),
            )
            for goal in goals
        ),
        performances=tuple(
            PerformanceFacts(
                str(one.code), one.title, one.day, one.pieces,
                tuple(str(goal.code) for goal in goals if goal.code in one.goals),
            )
            for one in shows
        ),
        entries=tuple(
            EntryFacts(
                str(one.code),
                one.day,
                one.begun,
                one.seconds,
                one.tiring,
                one.by,
                tuple((str(goal), seconds) for goal, seconds in one.segments),
            )
            for one in example.entries_of(name)
        ),
        notes=tuple(
            HandFacts(
                note.day,
                note.at,
                note.discomfort,
                note.hand,
                note.place,
                note.sensation,
                note.settles,
                seen=note.seen_at is not None,
                closed=note.closed_at is not None,
                also=note.also,
                closed_on=note.closed_at and note.closed_at.astimezone(ZONE).date(),
                code=str(note.code),
            )
            for note in example.notes_of(name)
        ),
        hand_return=next((one.facts for one in example.returns if one.student == name), None),
    )


# -- storing ---------------------------------------------------------------------------------------------------

BATCH = 500


@transaction.atomic
def store(example: ExampleStudio, until: dt.datetime | None = None, password: str = PASSWORD) -> Studio:
    """Writes a draw into an empty or used database as a studio of its own, all of it or nothing.

    until: an instant; sessions that would end later are left out, so that a demo started at dawn holds nothing
    that has not happened yet. Raises IntegrityError when one of its e-mail addresses is in use.
    """
    studio = Studio.objects.create(
        code=example.code,
        name=example.name,
        zone=example.zone,
        safeguarding_contact=example.safeguarding_contact,
    )
    teachers = {}
    for one in example.teachers:
        user = User.objects.create_user(one.email, password)
        teachers[one.name] = Teacher.objects.create(
            code=one.code, studio=studio, user=user, name=one.name, is_owner=one.is_owner
        )
    books = {"owner": teachers[cast.OWNER.name], "second": teachers[cast.SECOND.name]}
    Song.objects.bulk_create(
        # the same code for the same studio, book and title
        Song(code=uuid.uuid5(example.code, f"{whose}: {title}"), teacher=books[whose], title=title, key=key, capo=capo,
             chords=chords, level=level, tags=tags)
        for title, key, capo, chords, level, tags, of in SONGS
        for whose in of
    )  # fmt: skip
    guardians = _written(
        Guardian,
        {one.name: Guardian(code=one.code, studio=studio, name=one.name, email=one.email) for one in example.guardians},
    )
    students = _written(Student, {one.name: _student_row(one, studio, teachers) for one in example.students})
    Guardianship.objects.bulk_create(
        Guardianship(guardian=guardians[name], student=students[one.name])
        for one in example.students
        for name in one.guardians
    )
    Consent.objects.bulk_create(
        Consent(
            student=students[one.student],
            given_by=one.given_by,
            name=one.name,
            given_at=one.given_at,
            way=one.way,
            guardian=guardians[one.guardian] if one.guardian else None,
            recorded_by=students[one.student].teacher if one.way == "paper" else None,
        )
        for one in example.consents
    )
    goals = _written(Goal, {one.code: _goal_row(one, students[one.student]) for one in example.goals})
    lessons = _written(
        Lesson,
        {
            one.code: Lesson(
                code=one.code,
                student=students[one.student],
                day=one.day,
                time=one.time,
                minutes=one.minutes,
                outcome=one.outcome,
                words=one.words,
                recorded_at=one.recorded_at,
            )
            for one in example.lessons
        },
    )
    kept = [one for one in example.entries if until is None or one.ended <= until]
    entries = _written(
        PracticeEntry,
        {
            one.code: PracticeEntry(
                code=one.code,
                student=students[one.student],
                begun=one.begun,
                seconds=one.seconds,
                day=one.day,
                by=one.by,
                by_name=one.by_name,
                tiring=one.tiring,
                note=one.note,
                stored_at=one.stored_at,
            )
            for one in kept
        },
    )
    Segment.objects.bulk_create(
        (
            Segment(entry=entries[one.code], goal=goals[goal], seconds=seconds)
            for one in kept
            for goal, seconds in one.segments
        ),
        batch_size=BATCH,
    )
    Result.objects.bulk_create(
        [
            *(
                _result_row(made, goals[made.goal], lesson=lessons[one.code])
                for one in example.lessons
                for made in one.checks
            ),
            *(_result_row(made, goals[made.goal], entry=entries[one.code]) for one in kept for made in one.results),
        ],
        batch_size=BATCH,
    )
    HandNote.objects.bulk_create(
        (
            HandNote(
                code=one.code,
                student=students[one.student],
                entry=entries.get(one.entry),
                at=one.at,
                day=one.day,
                by=one.by,
                discomfort=one.discomfort,
                hand=one.hand,
                place=one.place,
                sensation=one.sensation,
                settles=one.settles,
                seen_at=one.seen_at,
                closed_at=one.closed_at,
                closed_words=one.closed_words,
                cleared_by=one.cleared_by,
                also=list(one.also),
            )
            for one in example.notes
            if until is None or one.at <= until
        ),
        batch_size=BATCH,
    )
    TellTeacher.objects.bulk_create(
        TellTeacher(code=one.code, student=students[one.student], at=one.at, by=one.by) for one in example.tells
    )
    HandReturn.objects.bulk_create(_return_row(one, students[one.student]) for one in example.returns)
    for one in example.performances:
        show = Performance.objects.create(
            code=one.code,
            student=students[one.student],
            title=one.title,
            day=one.day,
            pieces="\n".join(one.pieces),
            created_at=one.made_at,
        )
        show.goals.set([goals[goal] for goal in one.goals])
    for one in example.term_reports:
        whose = students[one.student]
        made = TermReport.objects.create(
            code=one.code, student=whose, start=one.start, end=one.end, words=one.words, written_by=whose.teacher
        )
        TermReport.objects.filter(pk=made.pk).update(changed_at=one.written_at)
    # `auto_now` wrote the clock; these rows were last changed when they came to be
    PracticeEntry.objects.filter(student__studio=studio).update(changed_at=F("stored_at"))
    Goal.objects.filter(student__studio=studio).update(changed_at=F("created_at"))
    return studio


def _written(model, rows: dict) -> dict:
    """Creates rows in batches and returns them with their keys."""
    return dict(zip(rows, model.objects.bulk_create(rows.values(), batch_size=BATCH), strict=True))


def _student_row(one: ExampleStudent, studio: Studio, teachers: Mapping[str, Teacher]) -> Student:
    return Student(
        code=one.code,
        studio=studio,
        teacher=teachers[one.teacher],
        name=one.name,
        birth_year=one.birth_year,
        joined=one.joined,
        status=one.status,
        left_on=one.left_on,
        instrument=one.instrument,
        strings=STRINGS[one.instrument][0],
        string_gauge=STRINGS[one.instrument][1],
        last_setup=one.joined,  # looked at in the first lesson, and not since
        plays=one.plays,
        lesson_weekday=one.lesson_weekday,
        lesson_time=one.lesson_time,
        lesson_minutes=one.lesson_minutes,
        lesson_every=one.lesson_every,
        lesson_anchor=one.lesson_anchor,
        plan_days=one.plan_days,
        plan_minutes=one.plan_minutes,
        daily_most=one.daily_most,
    )


def _goal_row(one: ExampleGoal, student: Student) -> Goal:
    return Goal(
        code=one.code,
        student=student,
        kind=one.goal.kind,
        terms=one.goal.to_terms(),
        measure=one.measure,
        target=one.target,
        start_value=one.start_value,
        due=one.due,
        words=one.words,
        acknowledged=list(one.acknowledged),
        created_by=student.teacher,
        created_at=one.created_at,
        day=one.day,
        set_aside_at=one.set_aside_at,
    )


def _return_row(one: ExampleReturn, student: Student) -> HandReturn:
    days = (one.begun_on, one.level_since)
    steps = [
        [level, day.isoformat(), words, STEPS[level].play, STEPS[level].rest, STEPS[level].rounds, False]
        for level, day, words in zip((1, 2), days, one.words, strict=True)
    ]
    return HandReturn(
        code=one.code,
        student=student,
        begun_on=one.begun_on,
        cleared_by=one.cleared_by,
        level=2,
        level_since=one.level_since,
        play_minutes=STEPS[2].play,
        rest_minutes=STEPS[2].rest,
        rounds=STEPS[2].rounds,
        steps=steps,
        set_by=student.teacher,
    )


def _result_row(
    made: ExampleResult, goal: Goal, entry: PracticeEntry | None = None, lesson: Lesson | None = None
) -> Result:
    return Result(
        student=goal.student,
        goal=goal,
        entry=entry,
        lesson=lesson,
        day=made.day,
        at=made.at,
        measure=made.measure,
        value=made.value,
        failed_strings=list(made.failed_strings),
    )
