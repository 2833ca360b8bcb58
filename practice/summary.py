"""One student's week as one plain value, which the family's page, the mail and the print draw alike.

One sentence, three numbers, one way to help that needs no musical knowledge, then the detail. Every part is
chosen by a stated order and computed from the rows; nothing is said that the rows do not show.

The sentence is the first of these that is true: the hand asks for a person, or nothing is played today (of this week
and the last one); minutes far over the plan (on a stepwise return, a day over its step, which stands in place of the
plan); a goal became secure in the week; a target was met for the first time; a day's last try lies above that of the
week before; practised on so many days; only a lesson check was made; nothing was logged, or nothing was asked. A goal
that rests today, or rested when the week was seen, is neither the sentence nor the way to help. The way to help
answers the hand first, then minutes far over the plan, then a week without practice, then the last week before a
performance, then the goal that needs it most.

Conventions: the week runs from `week` for seven days and is seen from its last day, or from today while it
runs. Hand values are said in words, to the family alone, and only while a consent stands; a student's own
page carries today's advice and no past note. The hand's answer is that of half a year's notes, as on every other page,
and of what stops all playing, however old.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace

from practice.asked import Asked, asked_of_week
from practice.attention import OVER_PLAN
from practice.facts import GoalFacts, Mark, StudentFacts
from practice.goal_voicings import rests
from practice.handanswer import FAMILY, Reader, answer_of
from practice.handcare import SEVERE_SKIN, Advice, stopped_by
from practice.handday import HandDay, day_in_words, hand_day
from practice.handreturn import days_over, in_place_of_plan, most_of, under_way
from practice.handrows import NOTHING, STOP
from practice.plateau import stuck
from practice.progress import (
    DEVELOPING,
    INTRODUCED,
    REVIEW_DUE,
    SECURE,
    State,
    days_practised,
    first_tries,
    minutes_between,
    state,
)
from practice.said import Said, Value, measured, said
from practice.stage import final_week, most_minutes, near
from studio import theory

WEEK = dt.timedelta(days=7)
DAY = dt.timedelta(days=1)
# As far back as the other pages read the hand's notes.
HALF_YEAR = dt.timedelta(weeks=26)


@dataclass(frozen=True)
class Number:
    """One of the three numbers. value: a count, or "–" where there is none; label: what it counts; beside:
    what stands under it.
    """

    value: float | str
    label: Said
    beside: Said


@dataclass(frozen=True)
class GoalLine:
    """A goal in the detail. last: its last first try up to the week's end, None without one; check: made in a
    lesson; minutes: spent on it in the week; rests: the hand lets it rest today."""

    code: str
    title: str
    theory: theory.Goal
    state: State
    measure: str
    target: float
    last: float | None
    last_on: dt.date | None
    check: bool
    minutes: int
    rests: bool = False


@dataclass(frozen=True)
class WeekSummary:
    """The week that begins on `start`; finished: all of it lies before today.

    numbers: days practised, minutes, and the most telling measurement. hand: what is said of the hand, in
    order, empty without consent; advice: today's answer of the rule book, None without consent. bend: a stepwise
    return's day, None without one and for a week before the last one, since a return is today's.
    """

    first_name: str
    start: dt.date
    finished: bool
    sentence: Said
    numbers: tuple[Number, Number, Number]
    help: Said
    goals: tuple[GoalLine, ...] = ()
    hand: tuple[Said, ...] = ()
    advice: Advice | None = None
    next_lesson: dt.date | None = None
    bend: HandDay | None = None

    @property
    def last_day(self) -> dt.date:
        return self.start + WEEK - DAY

    @property
    def coming_back(self) -> tuple[Said, ...]:
        """The return's day in words, () without one."""
        return day_in_words(self.bend, self.first_name)


def compose(facts: StudentFacts, week: dt.date, today: dt.date, for_student: bool = False) -> WeekSummary:
    """The summary of the week that begins on `week`, seen on `today`.

    for_student: the reader is the student, who sees no past hand note.
    """
    seen_on = min(today, week + WEEK - DAY)
    finished = week + WEEK <= today
    recent = today < week + 2 * WEEK
    now = hand_day(_lately(facts, today), today)
    then = hand_day(replace(_lately(facts, seen_on), hand_return=under_way(facts, seen_on)), seen_on)
    goals = _goals_of(facts, week, seen_on)
    free = [goal for goal in goals if not rests(goal.theory, facts, now) and not rests(goal.theory, facts, then)]
    minutes = minutes_between(facts.entries, week, min(week + WEEK, today + DAY))
    days = days_practised((entry for entry in facts.entries if entry.day <= today), week)
    hand = now.advice if recent else then.advice
    days_beside, minutes_beside = planned(facts, week, today, days, minutes)
    told = _told(facts, free, week, seen_on)
    sentence = _of_the_hand(facts, now) if recent else None
    if sentence is None:
        sentence = _too_much(facts, minutes, week, seen_on)
    if sentence is None:
        asked = asked_of_week(facts, week, today)
        sentence = told[1] if told else _of_days(facts, days, minutes, finished, goals, week, seen_on, asked)
    returning = now if recent and now.step is not None else None
    return WeekSummary(
        first_name=facts.first_name,
        start=week,
        finished=finished,
        sentence=sentence,
        numbers=(
            Number(days, said("number-days", days=days), days_beside),
            Number(minutes, said("number-minutes"), minutes_beside),
            _measurement(told[0] if told else None, goals, week, seen_on),
        ),
        help=_help(facts, free, told[0] if told else None, hand, returning, days, minutes, week, seen_on, today),
        goals=tuple(_line(goal, week, seen_on, recent and rests(goal.theory, facts, now)) for goal in goals),
        hand=tuple(_of_hand(facts, hand, week, seen_on, for_student)) if hand else (),
        advice=hand,
        next_lesson=facts.next_lesson,
        bend=returning,
    )


def _lately(facts: StudentFacts, day: dt.date) -> StudentFacts:
    """The facts with the notes that bear on `day`."""
    return replace(
        facts, notes=tuple(note for note in facts.notes if note.day >= day - HALF_YEAR or stopped_by(note))
    )


def _of_the_hand(facts: StudentFacts, now: HandDay) -> Said | None:
    """What comes before everything else: the answer of the notes that asks for a person, or the stop of a return."""
    answer = answer_of(now.advice, Reader(FAMILY, facts.first_name, "")) if now.asks_person else None
    if answer is not None:
        return answer.head
    return now.verdict.reason if now.stop and now.verdict is not None else None


def planned(
    facts: StudentFacts, week: dt.date, today: dt.date, days: int, minutes: int
) -> tuple[Said, Said]:
    """What stands beside days and minutes of the week that begins on `week`: the plan or what is left of it
    (practice.asked), half a day's minutes while the hand asks for a person, or the step that stands in its place."""
    asked = asked_of_week(facts, week, today)
    seen_on = min(today, week + WEEK - DAY)
    step = under_way(facts, seen_on)
    if asked.nothing:
        return said("number-days-none"), said("number-minutes-none")
    if step is not None:
        on, most = in_place_of_plan(step, seen_on)
        return on, said("return-earlier-step") if hand_day(facts, today).stop else most
    if asked.why:
        left = said("number-days-part", days=asked.days) if days < asked.days else said("number-days-enough")
        return left, said("number-minutes-part", minutes=asked.minutes)
    days_planned = said("number-days-planned", days=facts.plan_days)
    if over_plan(facts, minutes):
        return days_planned, said("number-minutes-over", minutes=facts.plan_week)
    hand = hand_day(facts, today)
    if hand.gently and seen_on == today:
        return days_planned, said("number-minutes-half", minutes=hand.plan)
    return days_planned, said("number-minutes-planned", minutes=facts.plan_week)


def _goals_of(facts: StudentFacts, week: dt.date, seen_on: dt.date) -> list[GoalFacts]:
    """Goals set up to that day; of those set aside since, only what was worked on in the week."""
    return [
        goal
        for goal in facts.goals
        if goal.set_on <= seen_on
        and (
            not goal.set_aside
            or any(week <= mark.day <= seen_on for mark in goal.marks)
            or any(week <= day <= seen_on for day, _ in goal.practised)
        )
    ]


def over_plan(facts: StudentFacts, minutes: int) -> bool:
    """Whether a week's minutes are far over the plan, by the rule of practice.attention."""
    return facts.plan_week > 0 and minutes > OVER_PLAN * facts.plan_week


def _too_much(facts: StudentFacts, minutes: int, week: dt.date, seen_on: dt.date) -> Said | None:
    """Minutes far over the plan, or days over the step that stands in its place."""
    step = under_way(facts, seen_on)
    if step is not None:
        over = days_over(step, facts.entries, week, seen_on)
        return said("week-over-step", name=facts.first_name, days=over, most=most_of(step)) if over else None
    if over_plan(facts, minutes):
        return said("week-over-plan", name=facts.first_name, minutes=minutes, plan=facts.plan_week)
    return None


def _line(goal: GoalFacts, week: dt.date, seen_on: dt.date, resting: bool) -> GoalLine:
    last = _last_try(goal, dt.date.min, seen_on)
    return GoalLine(
        code=goal.code,
        title=goal.title,
        theory=goal.theory,
        state=state(goal, seen_on),
        measure=goal.measure.code,
        target=goal.target,
        last=last.value if last else None,
        last_on=last.day if last else None,
        check=bool(last and last.check),
        minutes=round(sum(spent for day, spent in goal.practised if week <= day <= seen_on) / 60),
        rests=resting and not goal.set_aside,
    )


def _last_try(goal: GoalFacts, start: dt.date, end: dt.date) -> Mark | None:
    """The last day's try on start <= day <= end."""
    tries = [mark for mark in first_tries(goal, end) if mark.day >= start]
    return tries[-1] if tries else None


# -- the sentence
# -------------------------------------------------------------------------------------------------


def _told(
    facts: StudentFacts, goals: list[GoalFacts], week: dt.date, seen_on: dt.date
) -> tuple[GoalFacts, Said] | None:
    """The most telling thing about one goal, with the goal; within a kind the one due soonest."""
    goals = sorted(goals, key=lambda goal: (goal.due, goal.set_on, goal.code))
    for goal in goals:
        stands = state(replace(goal, set_aside=False), seen_on)
        if stands.code == SECURE and stands.since and stands.since >= week:
            return goal, _can(facts, goal)
    for goal in goals:
        met = [mark.day for mark in first_tries(goal, seen_on) if goal.measure.meets(mark.value, goal.target)]
        if met and met[0] >= week:
            return goal, said("week-met", what=_what(facts, goal), name=facts.first_name, target=_value(facts, goal))
    # of what stands still by the rule of every other page, no rise is told because one try was luckier
    moving = [goal for goal in goals if not stuck(goal, seen_on, facts.instrument_since)]
    risen = [(goal, rise) for goal in moving if (rise := _rise(goal, week, seen_on))]
    if risen:
        # the largest step as a share of the way from nothing (or from the start) to the target
        goal, (before, now) = max(risen, key=lambda pair: _share(pair[0], *pair[1]))
        values: dict[str, Value] = {
            "before": _value(facts, goal, before.value),
            "now": _value(facts, goal, now.value),
        }
        return goal, said("week-rise", name=facts.first_name, what=_what(facts, goal), **values)
    return None


def _rise(goal: GoalFacts, week: dt.date, seen_on: dt.date) -> tuple[Mark, Mark] | None:
    before, now = _last_try(goal, week - WEEK, week - DAY), _last_try(goal, week, seen_on)
    if before and now and goal.measure.better(now.value, before.value):
        return before, now
    return None


def _share(goal: GoalFacts, before: Mark, now: Mark) -> float:
    return abs(now.value - before.value) / max(abs(goal.target), 1.0)


def _can(facts: StudentFacts, goal: GoalFacts) -> Said:
    """What a goal that is secure now means to somebody who plays nothing."""
    name, code = facts.first_name, goal.measure.code
    what = _what(facts, goal)
    if code == "clean":
        sounding = _sounding(facts, goal)
        if sounding is None or goal.target >= sounding:
            return said("week-can-clean", name=name, what=what)
        return said("week-can-clean-of", name=name, what=what, value=int(goal.target), of=sounding)
    if code in ("landings", "changes", "tempo", "seconds", "right", "runs", "mark"):
        return said(f"week-can-{code}", name=name, what=what, value=_plain(goal.target))
    raise ValueError(f"a goal measured in {code} is never secure")  # time alone stays developing


def _of_days(
    facts: StudentFacts,
    days: int,
    minutes: int,
    finished: bool,
    goals: list[GoalFacts],
    week: dt.date,
    seen_on: dt.date,
    asked: Asked,
) -> Said:
    name = facts.first_name
    if days == 0:
        if any(mark.check and week <= mark.day <= seen_on for goal in goals for mark in goal.marks):
            return said("week-lesson-only", name=name)
        if asked.why:
            return said("week-rested" if asked.nothing else "week-nothing-rest", name=name)
        return said("week-nothing" if finished else "week-nothing-yet", name=name)
    if under_way(facts, seen_on) is not None:
        return said("week-days-return", name=name, days=days, minutes=minutes)
    if asked.why:
        return said("week-days-rest", name=name, days=days, minutes=minutes)
    if days == facts.plan_days:
        return said("week-days-all", name=name, days=days, minutes=minutes)
    if days > facts.plan_days:
        return said("week-days-more", name=name, days=days, plan=facts.plan_days, minutes=minutes)
    code = "week-days" if finished else "week-days-so-far"
    return said(code, name=name, days=days, plan=facts.plan_days, minutes=minutes)


# -- the three numbers
# ----------------------------------------------------------------------------------------------


def _measurement(told: GoalFacts | None, goals: list[GoalFacts], week: dt.date, seen_on: dt.date) -> Number:
    """The sentence's goal, else the goal measured last in the week; beside it the week before."""
    measured_now = [(mark, goal) for goal in goals if (mark := _last_try(goal, week, seen_on))]
    if told is not None:
        measured_now = [(mark, goal) for mark, goal in measured_now if goal.code == told.code]
    if not measured_now:
        return Number("–", said("number-none"), said("number-none-beside"))
    mark, goal = max(measured_now, key=lambda pair: (pair[0].at, pair[1].code))
    before = _last_try(goal, week - WEEK, week - DAY)
    if before:
        beside = said("number-beside", title=goal.title, value=_plain(before.value))
    else:
        beside = said("number-beside-none", title=goal.title)
    return Number(_plain(mark.value), said(f"number-{goal.measure.code}", value=_plain(mark.value)), beside)


# -- one way to help
# ------------------------------------------------------------------------------------------------


def _help(
    facts: StudentFacts,
    goals: list[GoalFacts],
    told: GoalFacts | None,
    hand: Advice | None,
    returning: HandDay | None,
    days: int,
    minutes: int,
    week: dt.date,
    seen_on: dt.date,
    today: dt.date,
) -> Said:
    """goals: those that may be played; returning: the day of a stepwise return, None without one."""
    name = facts.first_name
    if returning is not None and not returning.asks_person:
        return said("help-return-stop" if returning.stop else "help-return", name=name)
    if hand and hand.level != NOTHING:
        # once the day of what could not wait is over, help has come
        level = STOP if hand.until_seen and hand.days else hand.level
        return said("help-hand-skin" if hand.rule == SEVERE_SKIN else f"help-hand-{level}", name=name)
    if over_plan(facts, minutes):
        if shows := near(facts, seen_on):
            most = most_minutes(facts, seen_on)
            return said("help-over-plan-stage", name=name, minutes=most, title=shows[0].title, day=shows[0].day)
        return said("help-over-plan", name=name, minutes=facts.daily_most)
    if days and (show := final_week(facts, seen_on)):
        return said("help-stage", name=name, title=show.title, day=show.day)
    goal = _needs_help(goals, told, week, seen_on)
    if days == 0 and not asked_of_week(facts, week, today).nothing:
        return said("help-nothing-logged", name=name, minutes=min(10, facts.plan_minutes))
    if goal is None:
        return said("help-listen", name=name)
    what = _what(facts, goal)
    stands = state(goal, seen_on)
    if stands.code == INTRODUCED:
        return said("help-introduced", name=name, what=what)
    if stands.code == REVIEW_DUE:
        return said("help-review", name=name, what=what)
    return said(f"help-{goal.measure.code}", name=name, what=what, value=_plain(goal.target))


def _needs_help(goals: list[GoalFacts], told: GoalFacts | None, week: dt.date, seen_on: dt.date) -> GoalFacts | None:
    """The sentence's goal while it is developing; else developing goals by time spent in the week and due
    date, then those introduced, waiting for review, secure.
    """
    order = {DEVELOPING: 0, INTRODUCED: 1, REVIEW_DUE: 2, SECURE: 3}

    def rank(goal: GoalFacts) -> tuple[int, bool, int, dt.date, str]:
        code = state(goal, seen_on).code
        spent = sum(part for day, part in goal.practised if week <= day <= seen_on)
        mine = told is not None and goal.code == told.code and code == DEVELOPING
        return order[code], not mine, -spent, goal.due, goal.code

    return min((goal for goal in goals if not goal.set_aside), key=rank, default=None)


# -- the hand
# -------------------------------------------------------------------------------------------------------


def _of_hand(facts: StudentFacts, hand: Advice, week: dt.date, seen_on: dt.date, for_student: bool) -> Iterator[Said]:
    """The week's notes in words, without a number, then today's advice."""
    if not for_student:
        notes = [note for note in facts.notes if week <= note.day <= seen_on]
        felt = [note for note in notes if note.discomfort > 1]
        if felt:
            worst = max(felt, key=lambda note: (note.discomfort, note.at))
            days = len({note.day for note in felt})
            yield said(
                "hand-felt", days=days, much=said(f"felt-{band(worst.discomfort)}"), place=said(f"place-{worst.place}")
            )
        elif hand.note is not None and hand.note.day > seen_on:
            # "comfortable" beside a pause would leave a parent wondering which of the two holds
            yield said("hand-newer")
        elif notes:
            yield said("hand-comfortable", days=len({note.day for note in notes}))
        else:
            yield said("hand-no-note")
    if hand.level != NOTHING:
        yield from hand.says


def band(discomfort: int) -> str:
    """The band used here, in words that hold for the youngest: "little" 1 to 3, "some" 4 to 6, "lot" 7 to 10.

    The bands are one convention of several (Canadian Physiotherapy Association page, published).
    """
    if not 1 <= discomfort <= 10:
        raise ValueError(f"discomfort {discomfort}: there is a band from 1 to 10")
    return "little" if discomfort <= 3 else "some" if discomfort <= 6 else "lot"


# -- words for a goal
# -----------------------------------------------------------------------------------------------


def _plain(value: float) -> int | float:
    return int(value) if float(value).is_integer() else round(value, 1)


def _value(facts: StudentFacts, goal: GoalFacts, value: float | None = None) -> Said:
    of = _sounding(facts, goal) if goal.measure.code == "clean" else None
    return measured(goal.measure.code, goal.target if value is None else value, of)


def _sounding(facts: StudentFacts, goal: GoalFacts) -> int | None:
    for voicing in _voicings(facts, goal):
        return voicing.strings_sounding
    return None


def _voicings(facts: StudentFacts, goal: GoalFacts) -> Iterator[theory.Voicing]:
    for chord in goal.theory.chords:
        try:
            yield chord.voicing(goal.theory.on(facts.instrument))
        except theory.TheoryError:
            continue


def _symbols(facts: StudentFacts, goal: GoalFacts) -> list[str]:
    """The names of the goal's chords; a chord that cannot be placed is named by its root."""
    names = []
    for chord in goal.theory.chords:
        try:
            names.append(chord.voicing(goal.theory.on(facts.instrument)).symbol)
        except theory.TheoryError:
            names.append(chord.root)
    return names


def _what(facts: StudentFacts, goal: GoalFacts) -> Said:
    """The goal as a family may call it: "the chord F", "the change from D to Bm", "“Autumn Waltz”"."""
    names = _symbols(facts, goal)
    if goal.kind == "chord" and names:
        return said("what-chord", chord=names[0])
    if goal.kind == "change" and len(names) > 1:
        return said("what-change", first=names[0], second=names[1])
    if goal.kind == "progression" and goal.theory.key:
        return said("what-progression", key=goal.theory.key)
    if goal.kind == "roots" and goal.theory.string:
        return said("what-roots", string=said(f"string-{goal.theory.string}"))
    return said("what-piece", title=goal.title)
