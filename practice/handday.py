"""What a hand asks for on a day: the one answer that every page, sheet, mail and PDF of a student goes by.

The notes' answer (practice.handcare) and the step of a return (practice.handreturn) meet here and become a day: how
many minutes at most, what rests, and whether anything is played at all. What rests is whatever lays a finger flat over
three strings or more, whichever finger: a flat third finger asks at least as much of the hand as an index barre over
the same strings (common practice, no source). Two strings under one finger may stay.
"""

import datetime as dt
from dataclasses import dataclass

from practice.facts import ReturnFacts, StudentFacts
from practice.handcare import Advice, advice, gentler
from practice.handreturn import BACK, Verdict, felt_reason, most_of, verdict
from practice.handrows import NOTHING
from practice.said import Said, said


@dataclass(frozen=True)
class HandDay:
    """advice: the notes' answer, None without consent; plan and most: minutes, before a performance speaks; no_barre:
    what is laid flat rests; gently: half the minutes until somebody has looked; stop: nothing is played; step and
    verdict: of a return, None without one.
    """

    advice: Advice | None
    plan: int
    most: int
    no_barre: bool = False
    gently: bool = False
    stop: bool = False
    step: ReturnFacts | None = None
    verdict: Verdict | None = None

    @property
    def answers(self) -> bool:
        """Whether the notes have an answer that is to be seen."""
        return self.advice is not None and self.advice.level != NOTHING

    @property
    def asks_person(self) -> bool:
        return self.advice is not None and self.advice.ask_person

    @property
    def source(self) -> Said:
        """Where the steps of a return come from."""
        return said("return-source")

    def rests(self, lays_flat: bool) -> bool:
        """Whether something rests today. lays_flat: of the thing (practice.goal_voicings.lays_flat)."""
        return self.stop or (self.no_barre and lays_flat)

    def most_of(self, usual: int) -> int:
        """The day's most in minutes, where without a hand it would be `usual`: a step has minutes of its own, and an
        answer that asks for a person halves them."""
        if self.stop:
            return 0
        if self.step is not None:
            return self.most
        return gentler(usual) if self.gently else usual


def hand_day(facts: StudentFacts, today: dt.date) -> HandDay:
    """The day of a student as the hand bends it. A return's step stands in place of the plan: its minutes are the day's
    most, whatever the plan says."""
    hand = advice(facts.notes, today) if facts.hand_consent else None
    step = facts.hand_return if facts.hand_consent else None
    stops = hand is not None and hand.stops
    if step is not None:
        found = verdict(step, facts.notes, facts.entries, today)
        if hand is not None and hand.until_seen:
            # nobody proposes a step while a clinician's word is missing
            found = Verdict(BACK, found.days, said("return-waits"))
        elif not found.felt and hand is not None and hand.ask_person:
            found = Verdict(BACK, found.days, felt_reason(step))
        if found.felt:
            return HandDay(hand, 0, 0, no_barre=True, stop=True, step=step, verdict=found)
        return HandDay(hand, most_of(step), most_of(step), no_barre=not step.barre, step=step, verdict=found)
    if stops:
        return HandDay(hand, 0, 0, no_barre=True, stop=True)
    if hand is not None and hand.ask_person:
        return HandDay(hand, gentler(facts.plan_minutes), gentler(facts.daily_most), no_barre=True, gently=True)
    return HandDay(hand, facts.plan_minutes, facts.daily_most)


def holds_barres(facts: StudentFacts, today: dt.date) -> bool:
    """Whether what lies flat is set or taken up only with the teacher's explicit reason."""
    return hand_day(facts, today).no_barre


def day_in_words(day: HandDay | None, name: str) -> tuple[Said, ...]:
    """A return's day in words for a family or on paper: the step, or that today nothing more is played; () without
    one."""
    if day is None or day.step is None:
        return ()
    if day.stop and day.verdict is not None:
        return (day.verdict.reason,)
    step = day.step
    lines = [said("return-step", name=name, level=step.level, rounds=step.rounds, play=step.play_minutes)]
    if step.rest_minutes and step.rounds > 1:
        lines.append(said("return-rest", rest=step.rest_minutes))
    if not step.barre:
        lines.append(said("return-no-barre"))
    return tuple(lines)
