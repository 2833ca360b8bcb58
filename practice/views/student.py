"""One student as the teacher works with them: where things stand, the goals with their taps, what comes next."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from practice import stage
from practice.acts import Taps, goal_context, taps
from practice.asked import asked_of_week
from practice.attention import about_hand, attention, attention_input
from practice.cards import GoalCard, card
from practice.facts import EntryFacts, GoalFacts, StudentFacts
from practice.handday import HandDay, hand_day
from practice.load import DAY, barre_seconds, bigger_jump
from practice.progress import SECURE, State, days_practised, first_tries, minutes_between, one_day_weeks, state
from practice.queries import last_entry_days, student_facts
from practice.standing import standing
from practice.standing_words import standing_text
from practice.today import open_episodes, unseen_tells
from practice.trend import Told, left_out, told
from practice.words import say
from students.models import Student

# Entries and hand notes that the page reads; goals and their measurements always.
SPAN = dt.timedelta(weeks=26)
WEEK = dt.timedelta(days=7)
MOST_LESSONS = 6


@dataclass(frozen=True)
class Row:
    """A goal in the table. last: the newest day's try; of: how many strings its voicing sounds; told: where it goes;
    earlier: since when the instrument is the present one, where results before that day are left out of it; waits: it
    is not to be played today."""

    card: GoalCard
    state: State
    reason: str
    last: float | None
    of: int | None
    taps: Taps
    told: Told | None = None
    earlier: dt.date | None = None
    waits: bool = False

    @property
    def goal(self) -> GoalFacts:
        return self.card.goal


@dataclass(frozen=True)
class EntryRow:
    """An entry of this week with the titles of its goals."""

    entry: EntryFacts
    goals: tuple[tuple[str, int], ...]
    note: str


def _student(request: HttpRequest, code: Any) -> Student:
    seen = Student.objects.visible_to(request.viewer).select_related("studio", "teacher")
    return get_object_or_404(seen, code=code)


@require_safe
def student(request: HttpRequest, student: Any) -> HttpResponse:
    row = _student(request, student)
    today = row.studio.today(timezone.now())
    facts = student_facts(row, today, since=today - SPAN)
    states = {goal.code: state(goal, today) for goal in facts.goals}
    context = goal_context(facts, today)
    week = row.studio.week_of(today)
    hand = hand_day(facts, today)
    notes = dict(row.entries.on_days(week, week + WEEK).exclude(note="").values_list("code", "note"))
    tell = unseen_tells([row]).get(row.pk, "")
    last_entry = last_entry_days([row], today).get(row.pk)
    opened = open_episodes([row]).get(row.pk)
    reasons = attention(attention_input(facts, today, row.status, tell, last_entry, opened))
    return render(
        request,
        "practice/student.html",
        {
            "nav": "roster",
            "student": row,
            "today": today,
            "age": facts.age,
            "sentence": standing_text(standing(facts, states, today, last_entry)),
            "rows": [
                _goal_row(goal, facts, states[goal.code], today, context, hand) for goal in _in_order(facts, states)
            ],
            "rested": [goal for goal in facts.goals if goal.set_aside],
            "hand": about_hand(reasons),
            "stages": [(one, say(stage.nearness(one, today))) for one in stage.ahead(facts, today)],
            "slow": say(stage.slow_down(facts, today)),
            "spacing": say(one_day_weeks(facts, today)),
            # the steps of a return are a jump on purpose, and while nothing is played it is no news
            "jump": "" if hand.step or hand.stop else say(
                bigger_jump(facts.entries, facts.joined, today, facts.week_start)
            ),
            "barre_days": _barre_days(facts, today),
            "week_minutes": minutes_between(facts.entries, week, week + WEEK),
            "week_days": days_practised(facts.entries, week),
            "asked": asked_of_week(facts, week, today),
            "entries": _entries(facts, week, {str(code): note for code, note in notes.items()}),
            "lessons": list(row.lessons.all()[:MOST_LESSONS]),
            "next_lesson": _next_lesson(row, facts, today),
        },
    )


def _next_lesson(row: Student, facts: StudentFacts, today: dt.date) -> dt.date | None:
    """None too for whoever is paused or has left."""
    if row.status != Student.Status.ACTIVE:
        return None
    return today if row.has_lesson_on(today) else facts.next_lesson


def _barre_days(facts: StudentFacts, today: dt.date) -> list[tuple[dt.date, int]]:
    """The last seven days with their minutes on barres, oldest first; empty when there were none."""
    spent = barre_seconds(facts, today - WEEK + DAY, today + DAY)
    return [(day, round(seconds / 60)) for day, seconds in spent.items()] if any(spent.values()) else []


def _in_order(facts: StudentFacts, states: dict[str, State]) -> list[GoalFacts]:
    """By due day; what is secure comes last, since it asks for nothing."""
    return sorted(
        facts.active_goals, key=lambda goal: (states[goal.code].code == SECURE, goal.due, goal.set_on, goal.code)
    )


def _goal_row(
    goal: GoalFacts, facts: StudentFacts, stands: State, today: dt.date, context: Any, hand: HandDay
) -> Row:
    shown = card(goal, facts.instrument, facts.hand)
    tries = first_tries(goal, today)
    of = shown.voicings[0].strings_sounding if goal.measure.code == "clean" and shown.voicings else None
    return Row(
        card=shown,
        state=stands,
        reason=say(stands.reason),
        last=tries[-1].value if tries else None,
        of=of,
        taps=taps(goal, facts, today, context),
        told=told(goal, today, facts.instrument_since),
        earlier=left_out(goal, facts.instrument_since),
        waits=hand.rests(shown.lays_flat),
    )


def _entries(facts: StudentFacts, week: dt.date, notes: dict[str, str]) -> list[EntryRow]:
    """This week's entries, newest first."""
    title = {goal.code: goal.title for goal in facts.goals}
    return [
        EntryRow(entry, tuple((title[code], seconds) for code, seconds in entry.segments), notes.get(entry.code, ""))
        for entry in reversed(facts.entries)
        if week <= entry.day < week + WEEK
    ]
