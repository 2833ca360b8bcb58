"""What makes sense in a hand note as somebody gives it, one rule for the form and for what a phone sends.

Nothing here judges the hand (practice.handcare does): only whether the answers fit together. Codes are those of
practice.wire_words.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from practice.handrows import ALSO, FINGERS, NUMB, SKIN, SKIN_SENSATIONS, WEAK, WITHIN_THE_HOUR
from practice.record import OLDEST_DAYS, HandRecord
from students.calendar import local_day

# "a little", "some", "a lot" of a child under 8 whom an adult asks, as numbers: the middles of the bands used here,
# 1 to 3, 4 to 6 and 7 to 10 [derived]. A spoken 0 to 10 works from about 6 years, agreement is strong from 8 (Ann
# Emerg Med 2018, published); three words asked by an adult: from memory.
WORDS = (2, 5, 8)
WORDS_BELOW_AGE = 8

# yes/no questions; `sudden` is the question of older phones, which no form asks any more
QUESTIONS = ("at_rest", "daily", "sudden", "tip_only", "face_arm_leg")
ASKED = tuple(name for name in QUESTIONS if name != "sudden")


def in_order(also: Iterable[str]) -> tuple[str, ...]:
    """What was ticked, each once, in the one order in which it is kept: ticks are a set."""
    ticked = set(also)
    return tuple(one for one in ALSO if one in ticked)


def is_numb(given: HandRecord) -> bool:
    """Numbness was said, by either way of asking."""
    return given.sensation == "numb" or NUMB in given.also


def asks_for_help(given: HandRecord) -> bool:
    """Whether the question about arm, leg and face belongs to it: numb or weak, at any number."""
    return is_numb(given) or given.sensation == "weak" or WEAK in given.also


def fitting(given: HandRecord) -> HandRecord:
    """The note with what does not belong to it left out: without discomfort, and nothing else that was felt, only the 0
    is kept; the question about the tip belongs to numbness alone. A yes to another question is never dropped.
    """
    if not given.discomfort and not given.also and not asks_for_help(given):
        return HandRecord(0, in_words=given.in_words, face_arm_leg=given.face_arm_leg or None)
    tip_only = given.tip_only if is_numb(given) else None
    face_arm_leg = given.face_arm_leg if asks_for_help(given) or given.face_arm_leg else None
    return replace(given, tip_only=tip_only, face_arm_leg=face_arm_leg, also=in_order(given.also))


def too_early(at: dt.datetime, joined: dt.date | None, zone: str) -> bool:
    """Whether a note of the aware instant `at` lies before the student's first day with the studio, in its zone."""
    return joined is not None and local_day(at, zone) < joined


def wrong_day(day: dt.date, today: dt.date, joined: dt.date | None) -> str:
    """The code of what is wrong with the day of a note by itself, or "". joined: the student's first day with the
    studio."""
    if day > today:
        return "wire-day-to-come"
    if (today - day).days > OLDEST_DAYS:
        return "wire-too-old"
    return "wire-note-before-joined" if joined is not None and day < joined else ""


def wrong(given: HandRecord) -> list[tuple[str, str]]:
    """(field, code) of what does not fit together, in the order of the form. Empty when all does.

    given: after `fitting`. What is ticked at 0 is taken without a place: nothing may hold it up. Its numbers are 0 to
    10 and its words known.
    """
    found = []
    if given.in_words and given.discomfort not in (0, *WORDS):
        found.append(("discomfort", "wire-words"))
    if given.discomfort:
        found += [(name, "wire-where") for name in ("hand", "place") if not getattr(given, name)]
    if given.place and given.sensation in SKIN_SENSATIONS and given.place != SKIN:
        found.append(("sensation", "wire-skin"))
    if given.rested is not None and given.rested > given.discomfort:
        found.append(("rested", "wire-rested"))
    if given.tip_only and given.place and given.place not in FINGERS:
        found.append(("tip_only", "wire-tip-place"))
    elif given.tip_only and given.settles not in ("", *WITHIN_THE_HOUR):
        found.append(("tip_only", "wire-tip-settles"))
    return found
