"""What a student's day asks: the goals in their order with their minutes, what rests, what waits, and when it is
enough.

The hand comes first (practice.handday), then a performance's last week (practice.stage), then the plan. The student's
page, the printed sheet and what is drawn anew after a note all read this one value.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from practice import progress, stage
from practice.cards import GoalCard, Order, card, in_order, suggested_order
from practice.facts import StudentFacts
from practice.handday import HandDay, hand_day
from practice.said import Said, said


@dataclass(frozen=True)
class DayPlan:
    """hand: what it asks for; order: the goals to practise, with their minutes; resting: what the hand lets rest;
    waiting: what waits until after a performance; done, plan and most: minutes of the day, played, planned and at most.
    """

    hand: HandDay
    order: Order
    resting: tuple[GoalCard, ...]
    waiting: tuple[GoalCard, ...]
    done: int
    plan: int
    most: int

    @property
    def cards(self) -> tuple[GoalCard, ...]:
        return self.order.cards

    @property
    def enough(self) -> bool:
        """Whether the day's most is reached: nothing more is asked of it."""
        return not self.hand.stop and 0 < self.most <= self.done

    @property
    def may_start(self) -> bool:
        """Whether playing is the page's main action."""
        return bool(self.cards) and not self.hand.stop and not self.enough

    @property
    def head(self) -> Said:
        """What the day is headed by where the notes have no answer of their own (practice.handanswer)."""
        if self.hand.stop:
            return said("day-stop")
        if self.enough:
            return said("day-enough")
        if not self.cards:
            return said("day-barres-rest" if self.resting else "day-nothing-set")
        return said("day-start", title=self.cards[0].goal.title)


def day_plan(facts: StudentFacts, today: dt.date) -> DayPlan:
    """The day of a student, from facts that reach as far back as the hand's notes do."""
    hand = hand_day(facts, today)
    shown = suggested_order([card(goal, facts.instrument, facts.hand, today) for goal in facts.active_goals], today)
    resting = [one for one in shown if hand.rests(one.lays_flat)]
    cards = [one for one in shown if not hand.rests(one.lays_flat)]
    if hand.no_barre:
        # notes to find stand in the place of what rests
        cards.sort(key=lambda one: one.goal.kind != "roots")
    waiting: Sequence[GoalCard] = ()
    played = stage.played_through(facts, today)
    if played and not hand.gently and hand.step is None:
        # the last week before a performance belongs to what is played in it
        waiting = [one for one in cards if one.goal.code not in played]
        cards = [one for one in cards if one.goal.code in played]
    return DayPlan(
        hand=hand,
        order=in_order(cards, hand.plan),
        resting=tuple(resting),
        waiting=tuple(waiting),
        done=progress.minutes_on(facts.entries, today),
        plan=hand.plan,
        most=hand.most_of(stage.most_minutes(facts, today)),
    )
