"""Who needs attention, and why: one rule table for roster and Today, on values that SQL can give.

In this order:
1. a hand note that no teacher has seen: of 4 or more or with a sign of practice.handcare; or any, while the answer of
   the rule book is to ask a person, or something was felt on a step of a return; and what was seen, until it is dealt
   with: an open episode
2. what a teacher is to hear without a value, and none has seen: a consent has ended, "tell my teacher", a wrong tap was
   taken back
3. no entry for 8 days, those on which nothing was to be played left out (practice.asked); not for a student who joined
   less than 8 days ago
4. a goal past due
5. minutes over 150 % of the plan, in this week or in the last finished one
6. a goal that stands still though it is practised, and one that slipped back (practice.plateau); only where whole
   histories are read, on Today, the student's page and the overview: for a roster of hundreds that takes too long

Whoever is paused, or is to play nothing today, is asked after for the first two only; an archived student not at all.
"""

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from practice.asked import rest_of
from practice.facts import HandFacts, StudentFacts
from practice.handcare import SIGNS, advice, episode_end, is_skin, signs
from practice.handday import hand_day
from practice.handreturn import stops
from practice.handrows import FIRM
from practice.plateau import latest_slip, longest_stuck
from practice.progress import state, weekly_minutes
from practice.said import Said, measured, said

# What a teacher is to hear without a value (practice.models.TellTeacher.About), what matters most first.
TELLS = ("consent", "word", "back")
# from the first reason's sentence to what stands on a page that others may look at
_BEHIND = {"attention-hand-open": "open", **{f"attention-tell-{about}": about for about in TELLS}}

QUIET_DAYS = 8
OVER_PLAN = 1.5

ACTIVE = "active"
PAUSED = "paused"
ARCHIVED = "archived"


@dataclass(frozen=True)
class AttentionInput:
    """What the rules read of one student, as plain values.

    hand_unseen: highest discomfort of the unseen hand notes that count (`hand_unseen` picks them), None
    without one; hand_signs: codes of their signs (handcare.SIGNS); hand_asks: `hand_asks` says so; hand_open: an
    episode is open (`still_open`).
    tell: what waits to be heard, one of TELLS, "" for nothing.
    last_entry: day of the newest entry. past_due: how many active goals, those secure or waiting for review
    aside, were due before today; due_since: the earliest of these days, due_title its title. Minutes are
    whole; plan_week: planned minutes a week. stuck, slip: what `standstill` says of the goals' histories, None without
    such a goal and where the histories were not read. rest: days on which nothing was to be played; stopped: today is
    one.
    """

    today: dt.date
    joined: dt.date
    status: str = ACTIVE
    hand_unseen: int | None = None
    hand_signs: tuple[str, ...] = ()
    hand_asks: bool = False
    hand_open: bool = False
    tell: str = ""
    last_entry: dt.date | None = None
    past_due: int = 0
    due_since: dt.date | None = None
    due_title: str = ""
    plan_week: int = 0
    minutes_this_week: int = 0
    minutes_last_week: int = 0
    stuck: Said | None = None
    slip: Said | None = None
    rest: frozenset[dt.date] = frozenset()
    stopped: bool = False


@dataclass(frozen=True)
class Reason:
    """code: which rule; said: the reason in words; hand: belongs behind one tap, since others may look on."""

    code: str
    said: Said
    hand: bool = False


def attention(given: AttentionInput) -> list[Reason]:
    """Every reason that applies, in the order of the table; none means all is well."""
    if given.status == ARCHIVED:
        return []
    reasons = []
    if given.hand_signs:
        reasons.append(Reason("hand", said("attention-hand-sign", sign=said(f"sign-{given.hand_signs[0]}")), True))
    elif given.hand_unseen is not None and given.hand_unseen >= FIRM:
        reasons.append(Reason("hand", said("attention-hand", discomfort=given.hand_unseen), True))
    elif given.hand_asks:
        reasons.append(Reason("hand", said("attention-hand-asks"), True))
    elif given.hand_open:
        reasons.append(Reason("hand", said("attention-hand-open"), True))
    if given.tell:
        reasons.append(Reason("tell", said(f"attention-tell-{given.tell}"), True))
    if given.status == PAUSED or given.stopped:
        return reasons
    if quiet := _quiet(given):
        reasons.append(Reason("quiet", quiet))
    if given.past_due > 0:
        reasons.append(Reason("past-due", _past_due(given)))
    if over := _over_plan(given):
        reasons.append(Reason("over-plan", over))
    if given.stuck:
        reasons.append(Reason("stuck", given.stuck))
    if given.slip:
        reasons.append(Reason("slip", given.slip))
    return reasons


def about_hand(reasons: Iterable[Reason]) -> str:
    """What waits behind the one tap: a "note" to look at, an episode that is "open", one of TELLS, or "" for
    nothing."""
    first = next((reason.said.code for reason in reasons if reason.hand), "")
    return _BEHIND.get(first, "note") if first else ""


def first_told(abouts: Iterable[str]) -> str:
    """Which of several things that wait to be heard is said: the first of TELLS, "" without any."""
    waiting = set(abouts)
    return next((about for about in TELLS if about in waiting), "")


def still_open(opened: dt.date | None, notes: Iterable[HandFacts], today: dt.date) -> bool:
    """Whether an episode that was opened on that day is to be dealt with: one that the notes themselves have ended is
    not. notes: all since then."""
    return opened is not None and episode_end(notes, opened, today) is None


def _quiet(given: AttentionInput) -> Said | None:
    if (given.today - given.joined).days < QUIET_DAYS:
        return None
    days = quiet_days(given.last_entry or given.joined, given.today, given.rest)
    if days < QUIET_DAYS:
        return None
    if given.last_entry is None:
        return said("attention-no-entry-yet", day=given.joined)
    rested = days < (given.today - given.last_entry).days
    return said("attention-quiet-rest" if rested else "attention-quiet", days=days)


def quiet_days(last: dt.date, today: dt.date, rest: Collection[dt.date] = ()) -> int:
    """Days from `last` to today, those on which nothing was to be played left out."""
    return (today - last).days - sum(last < day <= today for day in rest)


def _past_due(given: AttentionInput) -> Said:
    if given.past_due == 1 and given.due_title and given.due_since:
        return said("attention-past-due-one", title=given.due_title, day=given.due_since)
    if given.due_since:
        return said("attention-past-due", count=given.past_due, day=given.due_since)
    return said("attention-past-due-count", count=given.past_due)


def _over_plan(given: AttentionInput) -> Said | None:
    return over_plan(given.plan_week, given.minutes_this_week, given.minutes_last_week)


def over_plan(plan_week: int, minutes_this_week: int, minutes_last_week: int) -> Said | None:
    """Minutes far over the plan, in this week or in the last finished one; None else."""
    if plan_week <= 0:
        return None
    for code, minutes in (
        ("attention-over-this-week", minutes_this_week),
        ("attention-over-last-week", minutes_last_week),
    ):
        if minutes > OVER_PLAN * plan_week:
            return said(code, minutes=minutes, plan=plan_week)
    return None


def hand_unseen(notes: Iterable[HandFacts]) -> tuple[int | None, tuple[str, ...]]:
    """The highest discomfort among the unseen notes of one student, and the signs they show, for
    AttentionInput.

    Fingertip skin that settles within a day (handcare.is_skin) is left out: it never asks for more than
    shorter bouts. Earlier notes, seen or not, are needed for "4 or more on repeated days".
    """
    notes = tuple(notes)
    new = [note for note in notes if not note.seen and not note.closed and not is_skin(note)]
    found = {sign for note in new for sign in signs(note, notes)}
    return max((note.discomfort for note in new), default=None), tuple(sign for sign in SIGNS if sign in found)


def nothing_played(notes: Iterable[HandFacts], return_since: dt.date | None, today: dt.date) -> bool:
    """Whether nothing is to be played today, from the notes alone: `practice.handday.hand_day` says the same of one
    student's whole facts. return_since: when the step of an open return began."""
    notes = tuple(notes)
    answer = advice(notes, today)
    return answer.stops or (return_since is not None and (answer.ask_person or stops(return_since, notes, today)))


def hand_asks(notes: Iterable[HandFacts], return_since: dt.date | None, today: dt.date) -> bool:
    """Whether a note that no teacher has seen belongs to an answer that asks for a person, however low it is: 1 to 3
    on four of the last seven days, or anything felt on a step of a return. return_since: when that step began.
    """
    notes = tuple(note for note in notes if note.day <= today)
    if all(note.seen or note.closed or note.discomfort == 0 for note in notes):
        return False
    return advice(notes, today).ask_person or (
        return_since is not None and stops(return_since, notes, today)
    )


def attention_input(
    facts: StudentFacts, today: dt.date, status: str = ACTIVE, tell: str = "",
    last_entry: dt.date | None = None, opened: dt.date | None = None,
) -> AttentionInput:
    """The same input from one student's plain values, where these were read anyway. last_entry: day of the newest
    entry, where the facts hold the newer entries alone; opened: when an open episode began."""
    since = facts.hand_return.level_since if facts.hand_return is not None else None
    discomfort, found = hand_unseen(facts.notes) if facts.hand_consent else (None, ())
    late = [goal for goal in facts.active_goals if goal.due < today and not state(goal, today).known]
    late.sort(key=lambda goal: goal.due)
    last, now = weekly_minutes(facts.entries, today, 2, facts.week_start)
    stuck, slip = standstill(facts, today)
    return AttentionInput(
        today=today,
        joined=facts.joined,
        status=status,
        hand_unseen=discomfort,
        hand_signs=found,
        hand_asks=facts.hand_consent and hand_asks(facts.notes, since, today),
        hand_open=facts.hand_consent and still_open(opened, facts.notes, today),
        tell=tell,
        last_entry=max((entry.day for entry in facts.entries if entry.day <= today), default=last_entry),
        past_due=len(late),
        due_since=late[0].due if late else None,
        due_title=late[0].title if late else "",
        plan_week=facts.plan_week,
        minutes_this_week=now.minutes,
        minutes_last_week=last.minutes,
        stuck=stuck,
        slip=slip,
        rest=rest_of(facts, today),
        stopped=hand_day(facts, today).stop,
    )


def standstill(facts: StudentFacts, today: dt.date) -> tuple[Said | None, Said | None]:
    """(the goal that stands still longest, the goal that slipped back last), as reasons; None without one."""
    still, back = longest_stuck(facts, today), latest_slip(facts, today)
    return (
        said("attention-stuck", title=still.goal.title, weeks=still.weeks, minutes=still.minutes) if still else None,
        said("attention-slip", title=back.goal.title, was=measured(back.goal.measure.code, back.was), day=back.on,
             now=back.now) if back else None,
    )  # fmt: skip
