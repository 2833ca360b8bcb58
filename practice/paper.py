"""A week copied from the printed sheet: seven boxes of minutes, perhaps split by goal, and one value a goal.

Each box becomes an entry of its own, with a code that was made when the form was drawn: sent twice, it is stored
once. All of the week is stored or nothing.
"""

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.db import transaction
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from practice.entry_form import VALUE_WORDS, MinutesField, minutes_words
from practice.logwork import first_voicing
from practice.measures import MEASURES
from practice.models import Goal, PracticeEntry, Result
from practice.record import LONGEST, OLDEST_DAYS, EntryRecord, ResultRecord, Span, place_in_day
from practice.store import ForeignCode, RemovedCode, goals_of, store_entry
from students.calendar import day_bounds, local_day
from students.models import Student

WEEK = dt.timedelta(days=7)
# Up to this day of a running week the sheet of the week before is the one that is brought along.
EARLY_DAYS = 2


def first_week(student: Student, today: dt.date) -> dt.date:
    """The earliest week whose sheet can be copied: the one of joining, at most a year back."""
    return student.studio.week_of(max(student.joined, today - dt.timedelta(days=OLDEST_DAYS)))


def usual_week(student: Student, today: dt.date) -> dt.date:
    """The week whose sheet is probably at hand: this one, on its first two days the one before."""
    this_week = student.studio.week_of(today)
    early = (today - this_week).days < EARLY_DAYS
    return max(this_week - WEEK if early else this_week, min(first_week(student, today), this_week))


def goals_of_week(student: Student, week: dt.date) -> list[Goal]:
    """The goals that stood on the sheet of a week: set by its end, and not set aside before it. One query."""
    begin, _end = day_bounds(week, student.studio.zone)
    return [
        goal
        for goal in student.goals.in_order()
        if goal.day < week + WEEK and (goal.set_aside_at is None or goal.set_aside_at >= begin)
    ]


@dataclass(frozen=True)
class Kept:
    """An entry that stands on a day: its code, span, seconds played and who logged it."""

    code: str
    begun: dt.datetime
    seconds: int
    day: dt.date
    by: str

    @property
    def span(self) -> Span:
        return self.begun, self.begun + dt.timedelta(seconds=self.seconds)


def kept_near(student: Student, week: dt.date) -> list[Kept]:
    """The entries of a week and of the days beside it. One query."""
    day = dt.timedelta(days=1)
    near = student.entries.on_days(week - day, week + WEEK + day).order_by("begun", "pk")
    return [
        Kept(str(code), begun, seconds, on, PracticeEntry.By(by).label)
        for code, begun, seconds, on, by in near.values_list("code", "begun", "seconds", "day", "by")
    ]


@dataclass(frozen=True)
class Box:
    """One day of the row, for the template. closed: why nothing can be written here, or "".

    code: the entry's, made when the form is drawn; seen: the seconds of the day's entries from elsewhere; already: all
    entries of the day in words; total: their seconds.
    """

    day: dt.date
    closed: str
    code: str
    seen: int
    already: tuple[str, ...]
    total: int
    minutes: forms.BoundField

    @property
    def code_name(self) -> str:
        return f"c-{self.day}"

    @property
    def seen_name(self) -> str:
        return f"s-{self.day}"


@dataclass(frozen=True)
class GoalLine:
    """A goal's boxes, one a day, and its value of the week (None for time alone)."""

    goal: Goal
    parts: tuple[forms.BoundField, ...]
    value: forms.BoundField | None


class PaperForm(forms.Form):
    """Fields: m-<day> minutes of a day, g-<goal>-<day> of these on a goal, v-<goal> its value of the week."""

    def __init__(
        self,
        *args: Any,
        student: Student,
        week: dt.date,
        goals: Sequence[Goal],
        kept: Sequence[Kept],
        now: dt.datetime,
        focus: bool = False,
        **kwargs: Any,
    ) -> None:
        """week: its first day; kept: `kept_near`; now: aware; focus: the first open box is ready to type in."""
        super().__init__(*args, **kwargs)
        self.student, self.week, self.goals, self.now = student, week, list(goals), now
        self.today = student.studio.today(now)
        self.days = [week + dt.timedelta(days=n) for n in range(7)]
        self.codes = {day: self._code(day) for day in self.days}
        ours = set(self.codes.values())
        self.stored = {one.code: one for one in kept if one.code in ours}
        self.others = [one for one in kept if one.code not in ours]
        for day in self.days:
            self._add(f"m-{day}", _day_words(day), day)
        for goal in self.goals:
            self._add_goal(goal)
        open_days = [day for day in self.days if not self.closed(day)]
        if focus and open_days:
            untouched = [day for day in open_days if not self.seen(day)]
            self.fields[f"m-{(untouched or open_days)[0]}"].widget.attrs["autofocus"] = True

    def _add(self, name: str, label: str, day: dt.date) -> None:
        box = self.fields[name] = MinutesField(label=label, disabled=bool(self.closed(day)))
        box.widget.attrs |= {"inputmode": "numeric", "class": "box"}
        box.day = day

    def _add_goal(self, goal: Goal) -> None:
        measure = MEASURES[goal.measure]
        for day in self.days:
            words = _("%(goal)s, %(day)s") % {"goal": goal.title, "day": _day_words(day)}
            self._add(f"g-{goal.code}-{day}", words, day)
        if measure.code == "minutes":
            return
        voicing = first_voicing(goal, self.student.theory_instrument()) if measure.code == "clean" else None
        highest = voicing.strings_sounding if voicing else measure.highest
        kind = forms.IntegerField if measure.whole else forms.FloatField
        self.fields[f"v-{goal.code}"] = kind(
            label=goal.title,
            required=False,
            min_value=int(measure.lowest),
            max_value=int(max(highest, measure.lowest)),
            help_text=VALUE_WORDS[measure.code],
            widget=forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        )

    # -- what the page shows -----------------------------------------------------------------------------------------

    def closed(self, day: dt.date) -> str:
        """Why nothing can be written on a day, or ""."""
        if day > self.today:
            return _("still to come")
        if day < self.student.joined:
            return _("before joining")
        if (self.today - day).days > OLDEST_DAYS:
            return _("over a year ago")
        return ""

    def seen(self, day: dt.date) -> int:
        """Seconds of the day's entries that do not come from this form."""
        return sum(one.seconds for one in self.others if one.day == day)

    def boxes(self) -> list[Box]:
        return [self._box(day) for day in self.days]

    def _box(self, day: dt.date) -> Box:
        kept = [one for one in (*self.others, *self.stored.values()) if one.day == day]
        return Box(
            day,
            self.closed(day),
            self.codes[day],
            self.seen(day),
            tuple(_("%(minutes)s (%(by)s)") % {"minutes": minutes_words(one.seconds), "by": one.by} for one in kept),
            sum(one.seconds for one in kept),
            self[f"m-{day}"],
        )

    def goal_lines(self) -> list[GoalLine]:
        return [
            GoalLine(
                goal,
                tuple(self[f"g-{goal.code}-{day}"] for day in self.days),
                self[f"v-{goal.code}"] if f"v-{goal.code}" in self.fields else None,
            )
            for goal in self.goals
        ]

    def split_typed(self) -> bool:
        """Whether anything stands in a goal's boxes: the page then shows them open."""
        return any(part.value() for line in self.goal_lines() for part in line.parts)

    # -- what was typed ----------------------------------------------------------------------------------------------

    def _code(self, day: dt.date) -> str:
        """The code of a day's entry: as drawn before, or a new one where that is none."""
        try:
            return str(uuid.UUID(str(self.data.get(f"c-{day}", ""))))
        except ValueError:
            return str(uuid.uuid4())

    def renew_code(self, day: dt.date) -> None:
        self.codes[day] = str(uuid.uuid4())

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        found = {day: seconds for day in self.days if (seconds := self._clean_day(day, data))}
        self.seconds: dict[dt.date, int] = found
        if found or self.errors:
            return data
        valued = [goal for goal in self.goals if data.get(f"v-{goal.code}") is not None]
        for goal in valued:
            self.add_error(f"v-{goal.code}", _("Write the minutes of the day on which this was measured, too."))
        if not valued:
            self.add_error(None, _("Write the minutes of at least one day."))
        return data

    def _clean_day(self, day: dt.date, data: Mapping[str, Any]) -> int:
        """Seconds of a day's box, 0 for an empty one; what is wrong with it is said beside it."""
        name = f"m-{day}"
        parts = [data.get(f"g-{goal.code}-{day}") or 0 for goal in self.goals]
        total, split = data.get(name) or 0, sum(parts)
        if self.closed(day) or name in self.errors:
            return 0
        if not total and not split:
            return 0
        if total and split > total + 60:
            self.add_error(name, _("The goals’ minutes add up to more than this."))
            return 0
        seconds = max(total, split)
        if seconds > LONGEST:
            self.add_error(name, _("That is over 8 hours. Log it as several sessions."))
            return 0
        begin, _end = day_bounds(day, self.student.studio.zone)
        if begin + dt.timedelta(seconds=seconds) > self.now + dt.timedelta(minutes=2):
            self.add_error(name, _("This day is not that old yet."))
            return 0
        if self.codes[day] not in self.stored and self.seen(day) and str(self.seen(day)) != self.data.get(f"s-{day}"):
            # logged on the phone after this page was drawn: nobody shall enter it twice unknowingly
            self.add_error(
                name,
                _("Meanwhile this day has %(minutes)s. Empty the box, or send it again if yours come on top.")
                % {"minutes": minutes_words(self.seen(day))},
            )
            return 0
        return seconds

    def records(self) -> list[EntryRecord]:
        """The entries of a valid form, oldest first."""
        valued = self._valued()
        spans = [one.span for one in self.others]
        records = []
        for day, seconds in sorted(self.seconds.items()):
            begun = place(day, seconds, self.now, self.student.studio.zone, spans)
            segments = tuple(
                (goal.code, part)
                for goal in self.goals
                if (part := self.cleaned_data.get(f"g-{goal.code}-{day}"))
            )
            code = uuid.UUID(self.codes[day])
            records.append(EntryRecord(code, begun, seconds, segments, tuple(valued.get(day, ())), placed=True))
        return records

    def _valued(self) -> dict[dt.date, list[ResultRecord]]:
        """The week's values by the day that takes them: the day that has the value already, when the form comes
        again; the last day on which the goal was practised; else the last day of the row."""
        held = Result.objects.filter(entry__code__in=list(self.stored)).values_list("goal__code", "entry__code")
        held = list(held) if self.stored else []
        day_of = {code: day for day, code in self.codes.items()}
        found: dict[dt.date, list[ResultRecord]] = {}
        for goal in self.goals:
            value = self.cleaned_data.get(f"v-{goal.code}")
            if value is None:
                continue
            before = [day_of[str(entry)] for measured, entry in held if measured == goal.code]
            before = [day for day in before if day in self.seconds]
            played = [day for day in self.seconds if self.cleaned_data.get(f"g-{goal.code}-{day}")]
            day = max(before or played or self.seconds)
            found.setdefault(day, []).append(ResultRecord(goal.code, goal.measure, float(value)))
        return found


def _day_words(day: dt.date) -> str:
    return capfirst(date_format(day, "l j F"))


def place(day: dt.date, seconds: int, now: dt.datetime, zone: str, others: Iterable[Span]) -> dt.datetime:
    """An instant on this very day for minutes that the sheet gives without a time: `place_in_day`, and where that
    would leave the day, its first minute."""
    begun = place_in_day(day, seconds, now, zone, others)
    return begun if local_day(begun, zone) == day else day_bounds(day, zone)[0]


class NotTheSame(Exception):
    """A box's code is stored with other values (entry), or is not to be had (None): removed, or another student's."""

    def __init__(self, day: dt.date, entry: PracticeEntry | None, *, removed: bool = False) -> None:
        super().__init__(str(day))
        self.day, self.entry, self.removed = day, entry, removed


def store_week(student: Student, form: PaperForm, by_name: str, now: dt.datetime) -> str:
    """Stores a valid form's entries, all or none, and returns the sentence to show, or "" when the form now carries
    an error beside a box."""
    records = form.records()
    goals = goals_of(student)
    zone = student.studio.zone
    try:
        with transaction.atomic():
            for record in records:
                day = local_day(record.begun, zone)
                try:
                    stored = store_entry(student, record, PracticeEntry.By.PAPER, by_name, now, False, goals)
                except ForeignCode as error:
                    raise NotTheSame(day, None, removed=isinstance(error, RemovedCode)) from None
                if not stored.same:
                    raise NotTheSame(day, stored.entry)
    except NotTheSame as wrong:
        if wrong.entry is None:
            form.renew_code(wrong.day)
            again = _("Please send it once more.")
            if wrong.removed:
                again = _("This box was stored before and then removed. Empty it, or send it again to store it anew.")
            form.add_error(f"m-{wrong.day}", again)
        else:
            form.add_error(
                f"m-{wrong.day}",
                _("This box was stored before, with %(minutes)s. Correct it in the list of entries.")
                % {"minutes": minutes_words(wrong.entry.seconds)},
            )
        return ""
    whole = minutes_words(sum(record.seconds for record in records))
    count = len(records)
    told = ngettext("%(minutes)s on %(n)d day stored.", "%(minutes)s on %(n)d days stored.", count)
    return told % {"minutes": whole, "n": count}
