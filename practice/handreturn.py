"""The stepwise return to playing after clearance: what a step asks of a day, and what its days allow next.

Levels 1 and 2 are the published ones [1]: 5 minutes, 60 of rest, 5 minutes; then 10, 50 of rest, 10. Each lasts 3 to 7
days, on only without symptoms, else back one, with a timer and a record. Further levels were not read: from 3 on the
teacher writes down what was agreed with the clinician, in their own numbers, and nothing is invented here.

The rules here only offer; the teacher moves the student. One thing is said at once and to everybody: whatever is felt
on a step stops the day, and one step back is proposed.

Conventions: a day counts for a step when something was logged on it, no more than the step allows (a minute's grace a
turn), and the hand was noted with nothing felt: a day that says nothing of the hand is no record [derived]. Only
finished days count. The day on which a step was set counts on the first step alone, since on a later one the earlier
step may have been played that morning [derived]. Felt: 1 or more, or a sign of practice.handcare. Fingertip skin that
settles within the day, and a tip that is numb within the hour, stay apart here too, below 7 [C]. What the teacher
closed stops nobody any more, and its day still does not count.

References
----------
[1] Return to play: British Association for Performing Arts Medicine (BAPAM), levels 1 and 2 (published).
[C] Common practice, no source.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from practice.facts import EntryFacts, HandFacts, ReturnFacts, StudentFacts
from practice.handcare import is_numb_tip, is_skin, signs
from practice.said import Said, said

FEWEST_DAYS, MOST_DAYS = 3, 7
OWN_FROM = 3  # from this level on the numbers are the teacher's and the clinician's
LAST_LEVEL = 9

BACK = "back"
STAY = "stay"
UP = "up"
MOVES = (BACK, STAY, UP)


@dataclass(frozen=True)
class Step:
    """`rounds` times `play` minutes a day, with `rest` minutes between."""

    play: int
    rest: int
    rounds: int


# level -> step [1]
STEPS = {1: Step(5, 60, 2), 2: Step(10, 50, 2)}


@dataclass(frozen=True)
class Verdict:
    """move: one of MOVES, an offer to the teacher; days: of the step that count; reason: why, in words."""

    move: str
    days: int
    reason: Said

    @property
    def felt(self) -> bool:
        """Something was felt on this step: stop for today."""
        return self.move == BACK


def most_of(step: ReturnFacts) -> int:
    """Minutes a day that a step allows at most."""
    return step.play_minutes * step.rounds


def under_way(facts: StudentFacts, day: dt.date) -> ReturnFacts | None:
    """The open return when it had begun by `day`; None else, and without consent."""
    step = facts.hand_return if facts.hand_consent else None
    return step if step is not None and step.begun_on <= day else None


def in_place_of_plan(step: ReturnFacts, day: dt.date) -> tuple[Said, Said]:
    """What stands beside days and minutes in place of the plan's, looking back from `day`: the step and its minutes.
    Of an earlier step the minutes are not known here, so none are said."""
    if step.level_since > day:
        return said("return-begun", day=step.begun_on), said("return-earlier-step")
    return said("return-on-step", level=step.level), said("return-most", minutes=most_of(step), day=step.level_since)


def days_over(step: ReturnFacts, entries: Iterable[EntryFacts], start: dt.date, end: dt.date) -> int:
    """On how many days of start <= day <= end, from the step's first on, more was played than it allows."""
    played = _played(entry for entry in entries if max(start, step.level_since) <= entry.day <= end)
    return sum(seconds > _allowed(step) for seconds in played.values())


def is_felt(note: HandFacts) -> bool:
    """Whether something was felt, other than by a fingertip that settles by itself."""
    if is_skin(note) or is_numb_tip(note):
        return False
    return note.discomfort > 0 or bool(signs(note))


def felt_reason(step: ReturnFacts) -> Said:
    """What is said when something was felt on a step: below the first there is no smaller one."""
    return said("return-felt" if step.level > 1 else "return-felt-first")


def stops(since: dt.date, notes: Iterable[HandFacts], today: dt.date) -> bool:
    """Whether something was felt on the step that began on `since` that the teacher has not dealt with."""
    return any(is_felt(note) and not note.closed for note in notes if since <= note.day <= today)


def verdict(
    step: ReturnFacts, notes: Iterable[HandFacts], entries: Iterable[EntryFacts], today: dt.date
) -> Verdict:
    """What the days on a step allow on `today`: back one at once for anything felt, up after three days that count.

    notes, entries: of the student; those before the step or after today are not looked at.
    """
    on_step = [note for note in notes if step.level_since <= note.day <= today]
    days = _days(step, on_step, entries, today)
    if stops(step.level_since, on_step, today):
        return Verdict(BACK, days, felt_reason(step))
    if days >= FEWEST_DAYS:
        return Verdict(UP, days, said("return-ready", days=days))
    if (today - step.level_since).days >= MOST_DAYS:
        return Verdict(STAY, days, said("return-long", days=days))
    return Verdict(STAY, days, said("return-days", days=days))


def _days(
    step: ReturnFacts, on_step: Iterable[HandFacts], entries: Iterable[EntryFacts], today: dt.date
) -> int:
    """How many finished days count for the step."""
    first_step = step.level == 1 and step.level_since == step.begun_on
    first = step.level_since if first_step else step.level_since + dt.timedelta(days=1)
    played = _played(entries)
    noted = {note.day for note in on_step}
    felt = {note.day for note in on_step if is_felt(note)}
    allowed = _allowed(step)
    return sum(first <= day < today and played.get(day, allowed + 1) <= allowed for day in noted - felt)


def _played(entries: Iterable[EntryFacts]) -> dict[dt.date, int]:
    played: dict[dt.date, int] = {}
    for entry in entries:
        played[entry.day] = played.get(entry.day, 0) + entry.seconds
    return played


def _allowed(step: ReturnFacts) -> int:
    """Seconds that a day on the step may hold, a minute's grace a turn included."""
    return (most_of(step) + step.rounds) * 60
