"""Where a student stands, in one sentence for the head of the page: what asks for the teacher, else what goes well.

In this order: nothing set; nothing asked today; nothing logged for 8 days; minutes far over the plan; the last week
before a performance, unless the hand asks for a person first; a goal that stands still though it is practised, and one
that slipped back (practice.plateau); goals past due; a week's practice that falls on one day; a review that fell due;
everything secure; what became secure within two weeks; what is nearest to its target. Of goals that rest today
(practice.handday) none is spoken of. Hand notes are not spoken of either: they wait behind one tap.
"""

import datetime as dt
from dataclasses import replace

from practice.asked import rest_of
from practice.attention import QUIET_DAYS, over_plan, quiet_days
from practice.facts import GoalFacts, StudentFacts
from practice.goal_voicings import rests
from practice.goalwork import first_voicing
from practice.handday import hand_day
from practice.plateau import latest_slip, longest_stuck
from practice.progress import REVIEW_DUE, State, first_tries, one_day_weeks, weekly_minutes
from practice.said import Said, said
from practice.stage import final_week

FRESH_DAYS = 14


def standing(
    facts: StudentFacts, states: dict[str, State], today: dt.date, last_entry: dt.date | None = None
) -> Said:
    """The sentence, as a code with values. states: of the active goals, by goal code; last_entry: day of the newest
    entry, where the facts hold the newer entries alone."""
    goals = facts.active_goals
    if not goals:
        return said("standing-no-goal", name=facts.first_name)
    hand = hand_day(facts, today)
    if hand.stop:
        return said("standing-rest", name=facts.first_name)
    quiet = _quiet_days(facts, today, last_entry)
    if quiet is not None:
        return said("standing-quiet", days=quiet) if quiet else said("standing-no-entry")
    before, now = weekly_minutes(facts.entries, today, 2, facts.week_start)
    if over := over_plan(facts.plan_week, now.minutes, before.minutes):
        code = "standing-over-this-week" if over.code == "attention-over-this-week" else "standing-over-last-week"
        return Said(code, over.values)
    show = final_week(facts, today)
    if show and not hand.asks_person:
        return said("standing-stage", title=show.title, day=show.day)
    if hand.no_barre:
        goals = tuple(goal for goal in goals if not rests(goal.theory, facts, hand))
        facts = replace(facts, goals=goals)
        if not goals:
            return said("standing-waits")
    if still := longest_stuck(facts, today):
        return said("standing-stuck", title=still.goal.title, weeks=still.weeks, minutes=still.minutes)
    if back := latest_slip(facts, today):
        return said("standing-slip", title=back.goal.title, was=back.was, day=back.on, now=back.now,
                    measure=back.goal.measure.code)  # fmt: skip
    secure = [goal for goal in goals if states[goal.code].known]
    late = [goal for goal in goals if goal.due < today and goal not in secure]
    if late:
        first = min(late, key=lambda goal: goal.due)
        if len(late) == 1:
            return said("standing-late-one", title=first.title, day=first.due)
        return said("standing-late", count=len(late), title=first.title, day=first.due)
    if spacing := one_day_weeks(facts, today):
        return said("standing-one-day", days=spacing.values["days"])
    waiting = [goal for goal in secure if states[goal.code].code == REVIEW_DUE]
    if waiting:
        first = min(waiting, key=lambda goal: _since(states[goal.code]))
        return said("standing-review", title=first.title, day=_since(states[first.code]))
    if len(secure) == len(goals):
        return said("standing-secure-wait" if hand.no_barre else "standing-all-secure", count=len(goals))
    fresh = [goal for goal in secure if _since(states[goal.code]) >= today - dt.timedelta(days=FRESH_DAYS)]
    nearest = _nearest([goal for goal in goals if goal not in secure], today)
    if fresh:
        newest = max(fresh, key=lambda goal: _since(states[goal.code]))
        day = _since(states[newest.code])
        if nearest is not None:
            return said("standing-secure-next", title=newest.title, day=day, next=nearest.title)
        return said("standing-secure", title=newest.title, day=day)
    if nearest is not None:
        last = first_tries(nearest, today)[-1]
        met = nearest.measure.meets(last.value, nearest.target)
        voicing = first_voicing(nearest.theory, facts.instrument) if nearest.measure.code == "clean" else None
        return said("standing-met" if met else "standing-near", title=nearest.title, value=last.value,
                    target=nearest.target, measure=nearest.measure.code,
                    of=voicing.strings_sounding if voicing else 0)  # fmt: skip
    return said("standing-untried", count=len(goals))


def _since(state: State) -> dt.date:
    return state.since or dt.date.min


def _quiet_days(facts: StudentFacts, today: dt.date, last_entry: dt.date | None) -> int | None:
    """Days since the last entry from QUIET_DAYS on, those of rest left out, 0 when there is none at all, None while
    all is well."""
    if (today - facts.joined).days < QUIET_DAYS:
        return None
    last = max((entry.day for entry in facts.entries if entry.day <= today), default=last_entry)
    rest = rest_of(facts, today)
    if last is None:
        return 0 if quiet_days(facts.joined, today, rest) >= QUIET_DAYS else None
    days = quiet_days(last, today, rest)
    return days if days >= QUIET_DAYS else None


def _nearest(goals: list[GoalFacts], today: dt.date) -> GoalFacts | None:
    """The measured goal whose last try lies nearest to its target, as a part of it; the earliest due of equals."""
    found: list[tuple[float, dt.date, str, GoalFacts]] = []
    for goal in goals:
        tries = first_tries(goal, today)
        if tries:
            value, target = tries[-1].value, goal.target
            low, high = sorted((value, target))
            short = 0.0 if goal.measure.meets(value, target) or not high else 1 - low / high
            found.append((short, goal.due, goal.code, goal))
    return min(found, key=lambda row: row[:3])[3] if found else None
