"""A student's term as one plain value, which the page's preview and the PDF draw alike.

One sentence, three numbers, the goals reached, what comes next, the teacher's words. All but the words is computed
from the rows; nothing is said that the rows do not show. What is said of the hand is only what the family's page says
already of the term's last week there (`summary.compose`), and nothing for an adult, whose report is their own. On a
stepwise return the plan does not hold: its minutes are counted up to the day the return began, and a minor's family
reads the step's beside them. Days on which nothing was to be played are no days of the term that count, and their
minutes are not planned (practice.asked). A goal that rests today is said to wait: what comes next is not that.

Conventions: the term runs from `start` to and with `end` and is seen from its last day, or from today while it runs. A
goal is reached in the term when it became secure in it and was so still at its end; one that was set aside since counts
by its history.
"""

import datetime as dt
from dataclasses import dataclass, replace

from practice.asked import asked_of_weeks, rest_of
from practice.facts import GoalFacts, Mark, StudentFacts
from practice.goal_voicings import rests
from practice.goalwork import first_voicing
from practice.handday import HandDay, hand_day
from practice.handreturn import in_place_of_plan, under_way
from practice.progress import SECURE, State, first_tries, state
from practice.said import Said, measured, said
from practice.summary import Number, compose
from students.calendar import week_of

DAY = dt.timedelta(days=1)
WEEK = dt.timedelta(days=7)

# Half a year is the longest term in use anywhere (common practice, no source); a whole year still fits.
LONGEST = dt.timedelta(days=371)
# A family's page shows the running week from this day on, before it the week that is over.
FRESH_FROM = 5


@dataclass(frozen=True)
class Reached:
    """A goal that became secure on `day`. target: what was asked."""

    code: str
    title: str
    day: dt.date
    target: Said


@dataclass(frozen=True)
class Coming:
    """A goal that is set and not reached. last: its last try up to the end, None without one; start: its first; waits:
    it rests today."""

    code: str
    title: str
    state: State
    start: Said | None
    last: Said | None
    last_on: dt.date | None
    target: Said
    due: dt.date
    waits: bool = False


@dataclass(frozen=True)
class Report:
    """A term. seen_on: its last day or today, whichever is earlier; running: it goes on after today.

    numbers: days practised, minutes, goals reached. coming: by due day, what waits last. hand: what the family may be
    told, in order; hand_week: first day of the week that it is about, None when nothing is said. words: the teacher's,
    as typed.
    """

    name: str
    first_name: str
    start: dt.date
    end: dt.date
    seen_on: dt.date
    running: bool
    sentence: Said
    numbers: tuple[Number, Number, Number]
    reached: tuple[Reached, ...] = ()
    coming: tuple[Coming, ...] = ()
    hand: tuple[Said, ...] = ()
    hand_week: dt.date | None = None
    words: str = ""


def compose_term(facts: StudentFacts, start: dt.date, end: dt.date, today: dt.date, words: str = "") -> Report:
    """The term from `start` to and with `end`, as seen on `today`.

    facts: with entries and notes from two weeks before `start` on, or earlier.  end: at or after start.
    Raises ValueError for a term that ends before it begins or begins after today.
    """
    if end < start or start > today:
        raise ValueError(f"term {start} to {end}, seen on {today}: it must have begun and not end before it begins")
    seen_on = min(end, today)
    within = [entry for entry in facts.entries if start <= entry.day <= seen_on]
    days = len({entry.day for entry in within})
    minutes = round(sum(entry.seconds for entry in within) / 60)
    goals = sorted(
        (goal for goal in facts.goals if goal.set_on <= seen_on), key=lambda goal: (goal.due, goal.set_on, goal.code)
    )
    reached = sorted(
        (one for goal in goals if (one := _reached(goal, facts, start, seen_on))),
        key=lambda one: (one.day, one.title, one.code),
    )
    done = {one.code for one in reached}
    hand_week, hand = _hand(facts, start, seen_on, today)
    begun = max(start, facts.joined)
    span = max((seen_on - begun).days + 1, 1)
    rested = sum(begun <= day <= seen_on for day in rest_of(facts, today))
    now = hand_day(facts, today)
    coming = [
        _coming(goal, facts, seen_on, now)
        for goal in goals
        if not goal.set_aside and goal.code not in done and not state(goal, seen_on).known
    ]
    planned, beside = _planned(facts, begun, seen_on, today)
    return Report(
        name=facts.name,
        first_name=facts.first_name,
        start=start,
        end=end,
        seen_on=seen_on,
        running=end > today,
        sentence=_sentence(facts.first_name, len(reached), days, minutes, bool(rested) and not planned),
        numbers=(
            Number(
                days,
                said("number-days", days=days),
                said("report-of-days-rest" if rested else "report-of-days", days=max(span - rested, days)),
            ),
            Number(minutes, said("number-minutes"), beside),
            Number(len(reached), said("report-goals", count=len(reached)), said("report-goals-beside")),
        ),
        reached=tuple(reached),
        coming=tuple(sorted(coming, key=lambda one: one.waits)),
        hand=hand,
        hand_week=hand_week if hand else None,
        words=words.strip(),
    )


def _planned(facts: StudentFacts, begun: dt.date, seen_on: dt.date, today: dt.date) -> tuple[int, Said]:
    """(planned minutes, what the minutes from `begun` to `seen_on` are measured by)."""
    step = under_way(facts, seen_on)
    last = seen_on if step is None else step.begun_on - DAY
    minutes = _asked_minutes(facts, begun, last, today)
    if step is not None and facts.minor:
        now = in_place_of_plan(step, seen_on)[1]
        if hand_day(facts, today).stop:
            now = said("return-earlier-step")
        return minutes, said("report-planned-return", minutes=minutes, step=now) if begun <= last else now
    return minutes, said("report-planned", minutes=minutes) if minutes else said("report-in-all")


def _asked_minutes(facts: StudentFacts, first: dt.date, last: dt.date, today: dt.date) -> int:
    """Minutes planned from `first` to `last`: of a week that lies in them in part the plan's part by days, and of one
    with days of rest no more than it asked for."""
    weeks: dict[dt.date, int] = {}
    for n in range(max((last - first).days + 1, 0)):
        week = week_of(first + n * DAY, facts.week_start)
        weeks[week] = weeks.get(week, 0) + 1
    asked = asked_of_weeks(facts, weeks, today)
    return round(sum(min(facts.plan_week * days / 7, asked[week].minutes) for week, days in weeks.items()))


def _sentence(name: str, reached: int, days: int, minutes: int, nothing_asked: bool) -> Said:
    if not days and not reached and nothing_asked:
        return said("report-nothing-asked", name=name)
    if not days:
        return said("report-nothing-logged" if reached else "report-nothing", name=name, count=reached)
    spent = said("report-spent", days=days, minutes=minutes)
    if reached:
        return said("report-reached", name=name, count=reached, spent=spent)
    return said("report-days", name=name, spent=spent)


def secure_on(goal: GoalFacts, start: dt.date, end: dt.date) -> dt.date | None:
    """The day on start <= day <= end on which the goal last became secure; None if it did not, or has slipped since."""
    goal = replace(goal, set_aside=False)
    if not state(goal, end).known:
        return None
    for mark in reversed(first_tries(goal, end)):
        if mark.day < start:
            return None
        stands = state(goal, mark.day)
        if stands.code == SECURE and stands.since == mark.day:
            return mark.day
    return None


def _reached(goal: GoalFacts, facts: StudentFacts, start: dt.date, end: dt.date) -> Reached | None:
    day = secure_on(goal, start, end)
    if day is None:
        return None
    return Reached(goal.code, goal.title, day, _measured(goal, facts, goal.target))


def _coming(goal: GoalFacts, facts: StudentFacts, seen_on: dt.date, now: HandDay) -> Coming:
    tries = first_tries(goal, seen_on)
    last: Mark | None = tries[-1] if tries else None
    return Coming(
        code=goal.code,
        title=goal.title,
        state=state(goal, seen_on),
        start=_measured(goal, facts, tries[0].value) if len(tries) > 1 else None,
        last=_measured(goal, facts, last.value) if last else None,
        last_on=last.day if last else None,
        target=_measured(goal, facts, goal.target),
        due=goal.due,
        waits=rests(goal.theory, facts, now),
    )


def _measured(goal: GoalFacts, facts: StudentFacts, value: float) -> Said:
    voicing = first_voicing(goal.theory, facts.instrument) if goal.measure.code == "clean" else None
    return measured(goal.measure.code, value, voicing.strings_sounding if voicing else None)


def _hand(
    facts: StudentFacts, start: dt.date, seen_on: dt.date, today: dt.date
) -> tuple[dt.date | None, tuple[Said, ...]]:
    """(week, what the family's page of that week says of the hand); nothing of an adult or without consent."""
    if not facts.minor or not facts.hand_consent:
        return None, ()
    week = week_of(seen_on, facts.week_start)
    if (seen_on - week).days < FRESH_FROM and week > max(start, facts.joined):
        week -= WEEK
    return week, compose(facts, week, today).hand
