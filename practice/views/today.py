"""The teacher's day: its lessons in time order, each with what needs a word, what was done and what comes next."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from practice import suggest
from practice.asked import asked_of_week
from practice.attention import Reason, about_hand, attention, attention_input
from practice.display import measured_text
from practice.facts import StudentFacts
from practice.goal_voicings import rests
from practice.goalwork import first_voicing
from practice.handday import hand_day
from practice.progress import minutes_between
from practice.queries import facts_of, last_entry_days
from practice.said import said
from practice.stage import for_teacher, slow_down
from practice.suggest_words import OF_HAND
from practice.telling import Telling, most_telling
from practice.today import Slot, day_slots, next_day_with_lessons, open_episodes, unseen_tells
from practice.words import say
from students.models import Student
from studio import theory

# What the lines of the day read: half a year of entries and hand notes.
SPAN = dt.timedelta(weeks=26)
WEEK = dt.timedelta(days=7)
EARLIEST, LATEST = dt.date(2000, 1, 1), dt.date(2100, 12, 31)


def read_day(text: str | None, today: dt.date) -> tuple[dt.date, str]:
    """The day that `?day=` names and a message when it names none; today without one."""
    if not text:
        return today, ""
    try:
        day = parse_date(text.strip())
    except ValueError:
        day = None
    if day is None or not EARLIEST <= day <= LATEST:
        return today, _("“%(text)s” is no day. Write it like %(example)s.") % {
            "text": text[:40], "example": today.isoformat()
        }
    return day, ""


@dataclass(frozen=True)
class Line:
    """One lesson on the page. hand: what waits about the hand (attention.about_hand); need: what else needs a word;
    minutes of `plan` in the seven days before the lesson, 0 where they asked for none; tried: the most telling first
    try; next_words and voicing: the next step; stage: a performance ahead, and slow why to slow down before it."""

    slot: Slot
    who: str
    hand: str
    need: str
    minutes: int
    plan: int
    tried: str
    next_words: str
    voicing: theory.Voicing | None
    stage: str = ""
    slow: str = ""

    @property
    def wants_a_word(self) -> bool:
        return bool(self.hand or self.need or self.slow) and not self.slot.off


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    viewer = request.viewer
    now_day = viewer.studio.today(timezone.now())
    day, trouble = read_day(request.GET.get("day"), now_day)
    slots = day_slots(viewer, day, now_day)
    students = [slot.student for slot in slots]
    facts = facts_of(students, now_day, since=now_day - SPAN)
    tells, opened = unseen_tells(students), open_episodes(students)
    last = last_entry_days(students, now_day)
    lines = []
    for slot in slots:
        key = slot.student.pk
        reasons: list[Reason] = []
        if day >= now_day:
            given = attention_input(
                facts[key], now_day, slot.student.status, tells.get(key, ""), last.get(key), opened.get(key)
            )
            reasons = attention(given)
        lines.append(_line(slot, facts[key], now_day, day, reasons))
    context: dict[str, Any] = {
        "nav": "today",
        "day": day,
        "today": now_day,
        "trouble": trouble,
        "typed": request.GET.get("day", ""),
        "lines": lines,
        "lead": lead(lines, day, now_day),
        "before": day - dt.timedelta(days=1),
        "after": day + dt.timedelta(days=1),
        "next_day": None if lines else next_day_with_lessons(viewer, day),
    }
    return render(request, "practice/today.html", context)


def _line(slot: Slot, facts: StudentFacts, today: dt.date, day: dt.date, reasons: list[Reason]) -> Line:
    end = min(day, today)
    slow = slow_down(facts, end)
    # who is slowed down before a performance is told the same minutes there
    others = [reason for reason in reasons if not reason.hand and not (slow and reason.code == "over-plan")]
    next_words, voicing = ("", None) if slot.off else _next_step(facts, today)
    return Line(
        slot=slot,
        who=who_words(slot.student, facts.age),
        hand=about_hand(reasons),
        need=say(others[0].said) if others else "",
        minutes=minutes_between(facts.entries, end - WEEK, end),
        plan=asked_of_week(facts, end - WEEK, today).minutes,
        tried=tried_words(most_telling(facts, today), facts),
        next_words=next_words,
        voicing=voicing,
        stage=say(for_teacher(facts, day)),
        slow=say(slow),
    )


def who_words(student: Student, age: int | None) -> str:
    """Age and instrument, as far as they are known: "10, three-quarter size"."""
    parts = [str(age)] if age is not None else []
    parts.append(student.get_instrument_display())
    if student.plays == Student.Plays.LEFT:
        parts.append(student.get_plays_display())
    return ", ".join(parts)


def tried_words(found: Telling | None, facts: StudentFacts) -> str:
    """The most telling first try as a line: "Bm, E-shape at 7: 6 of 6 strings, met twice"."""
    if found is None:
        return ""
    goal = found.goal
    if found.secure_since:
        words = {"goal": goal.title, "day": date_format(found.secure_since, "j M")}
        return _("%(goal)s: secure since %(day)s") % words
    voicing = first_voicing(goal.theory, facts.instrument) if goal.measure.code == "clean" else None
    of = voicing.strings_sounding if voicing else None
    words = {"goal": goal.title, "value": measured_text(found.mark.value, goal.measure.code, of)}
    if found.met > 1:
        return _("%(goal)s: %(value)s, target met on %(days)s days") % {**words, "days": found.met}
    return f"{words['goal']}: {words['value']}"


def _next_step(facts: StudentFacts, today: dt.date) -> tuple[str, theory.Voicing | None]:
    """What comes next, in a sentence or two, and the chord to draw beside it: a new one, or what is in hand and does
    not rest.

    What the hand is the reason of waits behind one tap with its note, since the next family may look on.
    """
    found = suggest.next_chords(facts, today, 1)
    if found:
        open_reasons = [reason for reason in found[0].reasons if reason.code not in OF_HAND]
        told = [_("Next: %(what)s.") % {"what": found[0].title}, *map(say, open_reasons[:1])]
        return " ".join(told), found[0].voicing
    why = suggest.word(facts, today)
    hand = hand_day(facts, today)
    if why is not None and why.code in OF_HAND:
        why = said("suggest-wait" if hand.no_barre else "suggest-stay")
    goals = [goal for goal in sorted(facts.active_goals, key=lambda g: g.due) if not rests(goal.theory, facts, hand)]
    drawn = (first_voicing(goal.theory, facts.instrument) for goal in goals)
    return say(why), next((voicing for voicing in drawn if voicing is not None), None)


# A sentence begins with a word up to twelve, with figures above.
_NUMBERS = (
    gettext_lazy("No"), gettext_lazy("One"), gettext_lazy("Two"), gettext_lazy("Three"), gettext_lazy("Four"),
    gettext_lazy("Five"), gettext_lazy("Six"), gettext_lazy("Seven"), gettext_lazy("Eight"), gettext_lazy("Nine"),
    gettext_lazy("Ten"), gettext_lazy("Eleven"), gettext_lazy("Twelve"),
)


def number_words(count: int) -> str:
    """A count at the head of a sentence: "Six", "14"."""
    return str(_NUMBERS[count]) if 0 <= count < len(_NUMBERS) else str(count)


def lead(lines: list[Line], day: dt.date, today: dt.date) -> str:
    """The day in a sentence or two: "Six lessons, from 15:30. Two need a word before you start."."""
    coming = [line for line in lines if not line.slot.off]
    if not lines:
        return ""
    if not coming:
        return _("No lesson takes place.")
    count = len(coming)
    words = {"count": number_words(count), "time": ""}
    first = min((line.slot.time for line in coming if line.slot.time is not None), default=None)
    if first is None:
        told = ngettext("%(count)s lesson.", "%(count)s lessons.", count) % words
    else:
        words["time"] = time_format(first, "H:i")
        told = ngettext("%(count)s lesson, at %(time)s.", "%(count)s lessons, from %(time)s.", count) % words
    if day < today:
        left = sum(line.slot.row is None for line in coming)
        more = ngettext("%(count)s is not recorded yet.", "%(count)s are not recorded yet.", left)
        more = more % {"count": number_words(left)} if left else _("All are recorded.")
        return f"{told} {more}"
    needing = sum(line.wants_a_word for line in coming)
    if not needing:
        return told
    more = ngettext("%(count)s needs a word before you start.", "%(count)s need a word before you start.", needing)
    return f"{told} {more % {'count': number_words(needing)}}"
