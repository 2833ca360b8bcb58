"""Sentences: what the pure modules say as a code with values, in the reader's language.

`say` is total over the codes below. Days are written as "5 November", nested statements are said first, and a
list of statements is read one after the other. Wording of hand advice is careful by rule: it asks, pauses and
points to a person, and names no condition.
"""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from practice.display import number_text
from practice.hand_words import ANSWER, HAND, SIGNS
from practice.report_words import TEMPLATES as REPORT
from practice.return_words import RETURN
from practice.said import Said
from practice.stage_words import TEMPLATES as STAGE
from practice.suggest_words import TEMPLATES as SUGGEST

MEASURED: dict[str, Any] = {
    "measured-clean-of": _("%(value)s of %(of)s strings"),
    "measured-clean": ngettext_lazy("%(value)s clean string", "%(value)s clean strings", "value"),
    "measured-landings": ngettext_lazy("%(value)s landing of 5", "%(value)s landings of 5", "value"),
    "measured-changes": ngettext_lazy("%(value)s change a minute", "%(value)s changes a minute", "value"),
    "measured-tempo": _("%(value)s beats a minute"),
    "measured-seconds": _("%(value)s seconds"),
    "measured-right": _("%(value)s right a minute"),
    "measured-runs": _("%(value)s of 3 without a stop"),
    "measured-mark": _("%(value)s of 5"),
    "measured-minutes": _("%(value)s minutes a week"),
}

STATES: dict[str, Any] = {
    "state-rule": _(
        "A goal is introduced until it is practised or measured, then developing. It is secure once the target was"
        " met on two different days, one of them a lesson check; a student's own reports alone leave it developing."
        " Review falls due four weeks after the target was last met, a gap that suits keeping a thing for a year"
        " (Cepeda et al. 2008, about facts and not motor skill); sooner, at equal gaps, for a goal that must last until"
        " a performance. A miss in a lesson check, or at the first try once"
        " review is due, returns it to developing."
    ),
    "state-introduced": _("Set on %(day)s, not practised yet."),
    "state-practised": ngettext_lazy(
        "Practised for %(minutes)s minute, not measured yet.",
        "Practised for %(minutes)s minutes, not measured yet.",
        "minutes",
    ),
    "state-not-met": _("Last %(value)s, on %(day)s; the target is %(target)s."),
    "state-slipped": _("It was secure and slipped to %(value)s on %(day)s; the target is %(target)s."),
    "state-one-check": _("The target, %(target)s, was met in the lesson on %(day)s. A second day makes it secure."),
    "state-met-once": _(
        "The target, %(target)s, was met once, on %(day)s by own report. A second day and a lesson check make it"
        " secure."
    ),
    "state-no-check": _("The target, %(target)s, was met on %(days)s days by own reports. A lesson check is missing."),
    "state-secure": _("Met on %(days)s days, checked in the lesson on %(check)s. Review falls due on %(review)s."),
    "state-review-due": _("Last met on %(last)s; review fell due on %(day)s."),
    "state-secure-until": _(
        "Met on %(days)s days, checked in the lesson on %(check)s. Review falls due on %(review)s, so that it lasts"
        " until the performance on %(until)s: equal gaps, by what was found about facts and not motor skill (Cepeda"
        " et al. 2008; Latimier et al. 2021)."
    ),
    "state-review-due-until": _(
        "Last met on %(last)s; review fell due on %(day)s, so that it lasts until the performance on %(until)s."
    ),
    "state-time-alone": ngettext_lazy(
        "%(minutes)s minute spent so far; time alone does not say how well it goes.",
        "%(minutes)s minutes spent so far; time alone does not say how well it goes.",
        "minutes",
    ),
    "state-set-aside": _("Set aside by the teacher."),
}

ATTENTION: dict[str, Any] = {
    "attention-hand-sign": _("A hand note that asks for a look: %(sign)s."),
    "attention-hand": _("A hand note of %(discomfort)s, not looked at yet."),
    "attention-hand-asks": _("Hand notes that ask for a person, not looked at yet."),
    "attention-hand-open": _("Hand notes that are not dealt with yet."),
    "attention-tell-word": _("Wants to talk to you about the hand."),
    "attention-tell-back": _("A hand note was taken back as a wrong tap."),
    "attention-tell-consent": _("The consent to hand notes has ended: talk the plan over."),
    "attention-quiet": ngettext_lazy("No entry for %(days)s day.", "No entry for %(days)s days.", "days"),
    "attention-quiet-rest": ngettext_lazy(
        "No entry for %(days)s day, days of rest left out.",
        "No entry for %(days)s days, days of rest left out.",
        "days",
    ),
    "attention-no-entry-yet": _("No entry yet, with the studio since %(day)s."),
    "attention-past-due-one": _("%(title)s was due on %(day)s."),
    "attention-past-due": ngettext_lazy(
        "%(count)s goal is past due, since %(day)s.",
        "%(count)s goals are past due, the oldest since %(day)s.",
        "count",
    ),
    "attention-past-due-count": ngettext_lazy("%(count)s goal is past due.", "%(count)s goals are past due.", "count"),
    "attention-over-this-week": _("%(minutes)s minutes this week, %(plan)s planned."),
    "attention-over-last-week": _("%(minutes)s minutes last week, %(plan)s planned."),
    "spacing-one-day": _(
        "In %(weeks)s of the last %(of)s weeks all practice fell on one day, usually %(minutes)s minutes. Over"
        " %(days)s days, %(each)s minutes each, more of it would be kept: spread practice beats massed (g = 0.74,"
        " Latimier et al. 2021), and what should last a week wants another look after about two days (Cepeda et al."
        " 2008). Both studied facts, not motor skill."
    ),
    "attention-stuck": _("%(title)s: no change in %(weeks)s weeks, though practised %(minutes)s minutes."),
    "attention-slip": _("%(title)s slipped back: was %(was)s on %(day)s, the last three tries no better than %(now)s."),
    "load-jump": _(
        "A bigger jump than usual: last week's practice load was %(load)s, %(times)s times the mean of the four weeks"
        " before it (%(usual)s). The band used here, 1.5 times, is contested (Gabbett 2016; Impellizzeri et al."
        " 2021): it is a reason to ask, nothing more."
    ),
}

TREND: dict[str, Any] = {
    "plateau-rule": _(
        "A goal is called stuck when its tries of five weeks or more bring less than 7 % of the way to the target in"
        " four weeks (Theil-Sen slope, with an interval that leaves scattered results alone), and nothing in the last"
        " days or two weeks lies above the three weeks before. On simulated students whose results vary by 5 % of the"
        " way, this finds nine of ten standstills of six weeks before they end and calls about one goal in thirty"
        " stuck that still moves; with scattered results it errs more often. A goal has slipped when the last three"
        " tries all lie clearly below three tries in a row that came before."
    ),
    "trend-rule": _(
        "Tempo, changes, right answers and seconds have a direction: the median of all slopes between two days of the"
        " last eight weeks (Theil-Sen), one value a day, from five results on three days or more. A day is named only"
        " when the line is sure enough: the likely days, at 90 %, lie within four weeks of each other and within eight"
        " weeks from now. Curves flatten, so the day is more often late than early. Counts that end at a number, such"
        " as clean strings, show the last five instead."
    ),
    "instrument-rule": _(
        "When a student changes instrument, tuning or capo, the direction, the standstill and the slip are counted from"
        " that day on; earlier results stay and are marked. What was secure stays secure until its review: it was heard"
        " in a lesson, and the review shows whether it came along."
    ),
    "plateau-stuck": ngettext_lazy(
        "No change in %(weeks)s weeks, though practised %(minutes)s minute.",
        "No change in %(weeks)s weeks, though practised %(minutes)s minutes.",
        "minutes",
    ),
    "plateau-stuck-untouched": _("No change in %(weeks)s weeks, and no practice logged on it."),
    "plateau-slip": _("Was %(was)s on %(day)s, the last three tries no better than %(now)s."),
    "trend-last": _("The last tries, oldest first: %(values)s."),
    "trend-too-early": ngettext_lazy(
        "Too early to say which way it goes: it needs %(more)s more day with a result.",
        "Too early to say which way it goes: it needs %(more)s more days with a result.",
        "more",
    ),
    "trend-backwards": _("Losing ground in the last weeks."),
    "trend-level": _("Neither up nor down in the last weeks."),
    "trend-unclear": _("No clear direction yet: the results vary too much."),
    "trend-varied": _("Moving on, but the results vary too much to name a day."),
    "trend-not-by-due": _("Moving on, but at this pace not by the due day."),
    "trend-far": _("Moving on, but at this pace the target is more than %(weeks)s weeks away."),
    "trend-soon": _("On course: any day now, likely by %(late)s."),
    "trend-course": _("On course for %(day)s, likely between %(early)s and %(late)s."),
    "trend-late": _("At this pace on %(day)s, after the due day; likely between %(early)s and %(late)s."),
    "trend-slope": ngettext_lazy(
        "The line through the results of %(days)s day since %(start)s: %(slope)s a week, likely between %(low)s and"
        " %(high)s.",
        "The line through the results of %(days)s days since %(start)s: %(slope)s a week, likely between %(low)s and"
        " %(high)s.",
        "days",
    ),
    "trend-plus": _("+%(value)s"),
    "trend-minus": _("−%(value)s"),
    "trend-zero": _("0"),
}

WEEK: dict[str, Any] = {
    "week-can-clean": _("%(name)s can play %(what)s with every string ringing."),
    "week-can-clean-of": _("%(name)s can play %(what)s with %(value)s of %(of)s strings ringing."),
    "week-can-landings": _("%(name)s can put all fingers down on %(what)s at once, %(value)s times in five."),
    "week-can-changes": _("%(name)s can play %(what)s %(value)s times a minute."),
    "week-can-tempo": _("%(name)s can play %(what)s at %(value)s beats a minute without a stop."),
    "week-can-seconds": _("%(name)s can find %(what)s in %(value)s seconds."),
    "week-can-right": _("%(name)s can find %(what)s, %(value)s right in a minute."),
    "week-can-runs": _("%(name)s can play %(what)s without a stop, %(value)s times in three."),
    "week-can-mark": _("%(name)s plays %(what)s at %(value)s of 5, twice over."),
    "week-over-plan": _("%(name)s practised %(minutes)s minutes, more than the %(plan)s planned."),
    "progress-over-this-week": _(
        "This week was more than planned. That is enough: short turns on more days bring more than long ones."
    ),
    "progress-over-last-week": _(
        "Last week was more than planned: %(minutes)s minutes, %(plan)s planned. Short turns on more days bring more"
        " than long ones."
    ),
    "week-met": _("%(name)s reached the target for %(what)s: %(target)s."),
    "week-rise": _("%(name)s got further with %(what)s: %(now)s, after %(before)s the week before."),
    "week-lesson-only": _("%(name)s played in the lesson; nothing was logged at home."),
    "week-nothing": _("Nothing was logged for %(name)s this week."),
    "week-nothing-yet": _("Nothing is logged for %(name)s this week so far."),
    "week-rested": _("%(name)s's hand rested; nothing was asked for this week."),
    "week-nothing-rest": _("Nothing was logged for %(name)s; on the days the hand rested nothing was asked."),
    "week-days-rest": ngettext_lazy(
        "%(name)s practised on %(days)s day, %(minutes)s minutes in all; on the days the hand rested nothing was"
        " asked.",
        "%(name)s practised on %(days)s days, %(minutes)s minutes in all; on the days the hand rested nothing was"
        " asked.",
        "days",
    ),
    "week-days-all": _("%(name)s practised on all %(days)s planned days, %(minutes)s minutes in all."),
    "week-days-more": ngettext_lazy(
        "%(name)s practised on %(days)s day, more than the %(plan)s planned: %(minutes)s minutes.",
        "%(name)s practised on %(days)s days, more than the %(plan)s planned: %(minutes)s minutes.",
        "days",
    ),
    "week-days": ngettext_lazy(
        "%(name)s practised on %(days)s of %(plan)s planned day, %(minutes)s minutes in all.",
        "%(name)s practised on %(days)s of %(plan)s planned days, %(minutes)s minutes in all.",
        "plan",
    ),
    "week-days-so-far": ngettext_lazy(
        "%(name)s has practised on %(days)s of %(plan)s planned day so far, %(minutes)s minutes.",
        "%(name)s has practised on %(days)s of %(plan)s planned days so far, %(minutes)s minutes.",
        "plan",
    ),
    "number-days": ngettext_lazy("day practised", "days practised", "days"),
    "number-days-planned": _("of %(days)s planned"),
    "number-days-none": _("none asked this week"),
    "number-days-part": _("of %(days)s asked; the others were for rest"),
    "number-days-enough": _("more was not asked"),
    "number-minutes": _("minutes"),
    "number-minutes-planned": _("of %(minutes)s planned"),
    "number-minutes-over": _("more than the %(minutes)s planned"),
    "number-minutes-half": _("half of it for now: %(minutes)s a day"),
    "number-minutes-none": _("none asked"),
    "number-minutes-part": _("of %(minutes)s asked"),
    "number-clean": ngettext_lazy("clean string", "clean strings", "value"),
    "number-landings": ngettext_lazy("landing of 5", "landings of 5", "value"),
    "number-changes": ngettext_lazy("change a minute", "changes a minute", "value"),
    "number-tempo": _("beats a minute"),
    "number-seconds": _("seconds"),
    "number-right": _("right a minute"),
    "number-runs": _("of 3 without a stop"),
    "number-mark": _("of 5"),
    "number-none": _("nothing measured"),
    "number-none-beside": _("this week"),
    "number-beside": _("%(title)s; %(value)s the week before"),
    "number-beside-none": _("%(title)s"),
    "help-hand-ease-off": _(
        "Look after the hand: short turns with a rest between them, and ask %(name)s how it feels."
    ),
    "help-hand-pause": _(
        "Let the hand rest from what brings it on, and ask %(name)s's teacher before that is played again."
    ),
    "help-hand-see-someone": _("Please let a doctor or a hand therapist see %(name)s's hand, and tell the teacher."),
    "help-hand-skin": _(
        "Look at the fingertip with %(name)s tomorrow. If there is pus, or it has not settled, ask a doctor."
    ),
    "help-hand-stop": _(
        "%(name)s's hand is resting: nothing is asked for this week, and nothing has to be made up. Tell the teacher"
        " what the doctor or hand therapist says."
    ),
    "help-hand-same-day": _(
        "Put the guitar away until somebody has had a look at %(name)s's hand. Nothing is asked for this week, and"
        " nothing has to be made up."
    ),
    "help-hand-hospital": _(
        "Keep %(name)s's hand still on the way. The guitar waits, and nothing has to be made up."
    ),
    "help-hand-emergency": _(
        "Stay with %(name)s until help comes. The guitar waits, and the teacher can hear of it later."
    ),
    "help-over-plan": _(
        "Help %(name)s to stop in time: at most %(minutes)s minutes a day. Missed minutes are not made up."
    ),
    "help-nothing-logged": _(
        "Find a moment of the day for %(minutes)s quiet minutes, and let the guitar stand where %(name)s can reach it."
    ),
    "help-listen": _("Ask %(name)s to play you something. Listening is enough."),
    "help-introduced": _("Ask %(name)s to show you %(what)s. It is new, so once is enough."),
    "help-review": _("Ask %(name)s for %(what)s once, without warming up first. Once a month keeps it."),
    "help-clean": _(
        "Ask %(name)s to play %(what)s one string at a time. Count the strings that ring; the target is %(value)s."
        " Two minutes are enough."
    ),
    "help-landings": _(
        "Ask %(name)s to take the hand off the neck, look away, and land on %(what)s five times. Count how many sound"
        " whole. Two minutes are enough."
    ),
    "help-changes": _(
        "Time half a minute while %(name)s plays %(what)s, back and forth. Count every arrival and double it; the"
        " target is %(value)s."
    ),
    "help-tempo": _("Ask %(name)s to play %(what)s twice without a stop, as slowly as that needs."),
    "help-seconds": _("Time %(name)s finding %(what)s. The target is %(value)s seconds."),
    "help-right": _("Ask %(name)s for %(what)s, a minute long. Count the right ones; the target is %(value)s."),
    "help-runs": _("Ask %(name)s to play %(what)s three times. Count how often it goes without a stop."),
    "help-mark": _("Ask %(name)s to play you %(what)s, and then which part was hardest."),
    "help-minutes": _("Ask %(name)s to play you %(what)s. Listening is enough."),
    "hand-felt": ngettext_lazy(
        "The hand: %(much)s discomfort on %(days)s day, at its most in the %(place)s.",
        "The hand: %(much)s discomfort on %(days)s days, at its most in the %(place)s.",
        "days",
    ),
    "hand-comfortable": ngettext_lazy(
        "The hand: comfortable on the one day it was noted.",
        "The hand: comfortable on each of the %(days)s days it was noted.",
        "days",
    ),
    "hand-newer": _("The hand: something was noted after this week, and the advice is about that."),
    "hand-no-note": _("The hand: nothing noted this week."),
    "felt-little": _("a little"),
    "felt-some": _("some"),
    "felt-lot": _("a lot of"),
    "what-chord": _("the chord %(chord)s"),
    "what-change": _("the change from %(first)s to %(second)s"),
    "what-progression": _("the chords in %(key)s"),
    "what-roots": _("the notes of the %(string)s"),
    "what-piece": _("“%(title)s”"),
}

STRINGS: dict[str, Any] = {
    "string-1": _("1st string"),
    "string-2": _("2nd string"),
    "string-3": _("3rd string"),
    "string-4": _("4th string"),
    "string-5": _("5th string"),
    "string-6": _("6th string"),
    "string-7": _("7th string"),
    "string-8": _("8th string"),
}

PLACES: dict[str, Any] = {
    "place-": _("hand"),
    "place-fingertip": _("fingertips"),
    "place-index": _("index finger"),
    "place-second": _("second finger"),
    "place-third": _("third finger"),
    "place-little": _("little finger"),
    "place-thumb": _("thumb"),
    "place-palm": _("palm"),
    "place-wrist": _("wrist"),
    "place-forearm": _("forearm"),
    "place-elbow": _("elbow"),
    "place-shoulder": _("shoulder"),
    "place-neck": _("neck"),
}

TEMPLATES: Mapping[str, Any] = {
    **MEASURED, **STATES, **ATTENTION, **TREND, **HAND, **ANSWER, **SIGNS, **WEEK, **STRINGS, **PLACES, **SUGGEST,
    **STAGE, **RETURN, **REPORT,
}  # fmt: skip


def say(statement: Said | None) -> str:
    """The sentence of a statement; "" for None. KeyError for a code without a template or a value without a
    name.
    """
    if statement is None:
        return ""
    if statement.code == "list":
        return _written(statement.values["items"])
    counts = dict(statement.values)
    template = TEMPLATES[statement.code]
    # a plural is chosen by the number itself, then every value is written as people read it
    chosen = template % {name: _Written(value) for name, value in counts.items()} if counts else str(template)
    return str(chosen)


class _Written(int):
    """A value in a template: a number for choosing the plural, text for writing."""

    text: str

    def __new__(cls, value: Any) -> "_Written":
        number = int(value) if isinstance(value, int | float) else 0
        made = super().__new__(cls, number)
        made.text = _written(value)
        return made

    def __str__(self) -> str:
        return self.text


def _written(value: Any) -> str:
    match value:
        case Said():
            return say(value)
        case tuple():
            return " ".join(_written(item) for item in value)
        case dt.date():
            return date_format(value, "j F")
        case int() | float():
            return number_text(value)
        case _:
            return str(value)
