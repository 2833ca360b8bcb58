"""The form that logs a session: the student's, a parent's and the teacher's (from paper) are the same form.

Its fields follow from the student's active goals, so that every goal can take its minutes and one quick measure;
hand questions (practice.hand_note_form) exist only where a standing consent lets their answers be kept. Where nothing
but them is answered, the form is a hand note and no session.
"""

import datetime as dt
import uuid
import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from practice import handcheck
from practice.goalwork import clean_count
from practice.hand_note_form import HAND_FIELDS, KEPT_AS_WORDS, HandQuestions, number_field
from practice.measures import MEASURES, Measure
from practice.models import Goal
from practice.record import (
    AHEAD,
    LONGEST,
    OLDEST_DAYS,
    EntryRecord,
    Fault,
    HandNoteRecord,
    ResultRecord,
    Span,
    faults,
    note_instant,
    overlapping,
    place_in_day,
)
from practice.wire_words import TEMPLATES as WIRE_WORDS
from students.forms import DayInput, TimeOfDayInput
from students.models import Student
from studio import theory

TIRING_WORDS = [("0", _("not at all")), ("2", _("a little")), ("5", _("some")), ("8", _("a lot"))]

FAULT_WORDS = {
    Fault.FUTURE: _("That ends in the future. Check the day, the start and the minutes."),
    Fault.TOO_LONG: _("That is over 8 hours. Log it as several sessions."),
    Fault.TOO_OLD: _("That is over a year ago. Ask your teacher to keep it in the lesson notes."),
}
NOTE_WITH_MINUTES = _(
    "A note to the teacher goes with minutes. Give the minutes, or empty it: what you say of the hand can go alone."
)


def read_minutes(text: str) -> int:
    """Seconds from "12" (minutes), "12:30" (minutes and seconds) or "1:05:00". Raises ValidationError."""
    parts = text.strip().split(":")
    if not 1 <= len(parts) <= 3 or not all(
        part.isascii() and part.isdigit() and len(part) <= 5 for part in parts
    ):
        raise ValidationError(_("Write minutes, such as 12 or 12:30."))
    numbers = [int(part) for part in parts]
    if any(number > 59 for number in numbers[1:]):
        raise ValidationError(_("Write minutes, such as 12 or 12:30."))
    match numbers:
        case [minutes]:
            seconds = minutes * 60
        case [minutes, rest]:
            seconds = minutes * 60 + rest
        case [hours, minutes, rest]:
            seconds = hours * 3600 + minutes * 60 + rest
    if seconds > LONGEST:
        raise ValidationError(FAULT_WORDS[Fault.TOO_LONG])
    return seconds


class MinutesField(forms.CharField):
    """Minutes as people write them; its value is whole seconds, or None when left empty."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 6})
        )
        super().__init__(max_length=12, required=False, **kwargs)

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        return read_minutes(text) if text else None

    def run_validators(self, value: Any) -> None:
        """The text was checked while it was read; what is left is a number."""


class GoalPart:
    """The fields of one goal within the form, for the template: the row, its voicing and the bound fields.

    first: the day's first try where one is logged already, or None.
    """

    def __init__(self, form: "EntryForm", goal: Goal, voicing: theory.Voicing | None) -> None:
        self.goal = goal
        self.voicing = voicing
        self.minutes = form[f"minutes-{goal.code}"]
        self.value = form[f"value-{goal.code}"]
        self.failed = form[f"failed-{goal.code}"] if f"failed-{goal.code}" in form.fields else None
        self.tried = form[f"tried-{goal.code}"] if f"tried-{goal.code}" in form.fields else None
        self.first: float | None = None

    @property
    def spoken_for(self) -> bool:
        """Whether anything was typed or marked here, or is wrong."""
        fields = [field for field in (self.minutes, self.value, self.failed, self.tried) if field is not None]
        return any(field.errors or field.value() not in (None, "", False, []) for field in fields)


# Of more goals than this the rest wait under "Other goals"; of one more, hiding it would save nothing.
OPEN_GOALS = 3


@dataclass(frozen=True)
class Folded:
    """shown: the goals that stand open; others: those under "Other goals"; open: whether that stands open."""

    shown: list[GoalPart]
    others: list[GoalPart]
    open: bool


def folded(parts: Sequence[GoalPart]) -> Folded:
    """Which goals of the log stand open. On the phone log.js puts those that were practised in front."""
    keep = len(parts) if len(parts) <= OPEN_GOALS + 1 else OPEN_GOALS
    others = list(parts[keep:])
    return Folded(list(parts[:keep]), others, any(part.spoken_for for part in others))


class EntryForm(HandQuestions):
    code = forms.UUIDField(widget=forms.HiddenInput)
    day = forms.DateField(label=_("Day"), widget=DayInput)
    start = forms.TimeField(
        label=_("Started at"),
        required=False,
        widget=TimeOfDayInput,
        help_text=_("Leave empty if you do not know."),
    )
    total = MinutesField(label=_("Minutes altogether"))
    note = forms.CharField(
        label=_("Note to the teacher"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(
        self,
        *args: Any,
        student: Student,
        goals: list[Goal],
        spans: list[Span],
        now: dt.datetime,
        hand_consent: bool,
        voice: str,
        voicings: dict[int, theory.Voicing | None] | None = None,
        paper: bool = False,
        **kwargs: Any,
    ) -> None:
        """spans: the student's sessions near the day; now: aware; voice: of whoever logs (practice.handanswer.VOICES);
        voicings: by goal id, where a goal has one."""
        super().__init__(*args, **kwargs)
        self.student, self.goals, self.spans, self.now = student, goals, spans, now
        self.hand_consent = hand_consent
        self.note_alone = False
        self.voicings = voicings or {}
        today = student.studio.today(now)
        self.fields["code"].initial = uuid.uuid4
        self.fields["day"].initial = today
        self.fields["day"].widget.attrs["max"] = today.isoformat()
        if paper:
            self.fields["paper"] = forms.BooleanField(
                label=_("From the paper sheet"), required=False, initial=True
            )
        for goal in goals:
            self._add_goal(goal)
        if hand_consent:
            self.ask_hand(student, today, voice)
            self._ask_tiring()

    def _add_goal(self, goal: Goal) -> None:
        measure = MEASURES[goal.measure]
        self.fields[f"minutes-{goal.code}"] = MinutesField(label=_("Minutes"))
        if measure.code == "minutes":
            self.fields[f"value-{goal.code}"] = forms.CharField(
                required=False, widget=forms.HiddenInput, disabled=True
            )
            return
        self.fields[f"value-{goal.code}"] = self._value_field(goal, measure)
        voicing = self.voicings.get(goal.pk)
        if measure.code == "clean" and voicing is not None:
            self.fields[f"tried-{goal.code}"] = forms.BooleanField(
                label=_("I played it string by string"), required=False
            )
            self.fields[f"failed-{goal.code}"] = forms.TypedMultipleChoiceField(
                label=_("Which strings failed?"),
                required=False,
                coerce=int,
                choices=[(n, theory.STRING[n]) for n in range(len(voicing.frets), 0, -1)],
                widget=forms.CheckboxSelectMultiple,
            )

    def _value_field(self, goal: Goal, measure: Measure) -> forms.Field:
        voicing = self.voicings.get(goal.pk) if measure.code == "clean" else None
        highest = voicing.strings_sounding if voicing else measure.highest
        words = VALUE_WORDS[measure.code]
        kind = forms.IntegerField if measure.whole else forms.FloatField
        return kind(
            label=words,
            required=False,
            min_value=int(measure.lowest),
            max_value=int(max(highest, measure.lowest)),
            widget=forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        )

    def _ask_tiring(self) -> None:
        label, help_text = _("How tiring for the hand?"), _("0 not at all, 10 had to stop")
        if self.in_words:
            label, help_text = _("An adult asks: how tiring was it for the hand?"), KEPT_AS_WORDS
        self.fields["tiring"] = number_field(label, help_text, TIRING_WORDS if self.in_words else None)

    def leave_hand_out(self) -> None:
        """Asks nothing about the hand, whatever consent stands."""
        self.hand_consent = self.asks_hand = False
        for name in ("tiring", *HAND_FIELDS):
            self.fields.pop(name, None)

    def goal_parts(self) -> list[GoalPart]:
        return [GoalPart(self, goal, self.voicings.get(goal.pk)) for goal in self.goals]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        self._clean_goals(data)
        self.note_alone = self._is_note_alone(data)
        if self.note_alone:
            self._clean_note_alone(data)
        else:
            self._clean_minutes(data)
            self._clean_time(data)
        if self.asks_hand:
            self._clean_hand(data)
        return data

    def _clean_goals(self, data: dict[str, Any]) -> None:
        for goal in self.goals:
            tried, failed, value = (data.get(f"{name}-{goal.code}") for name in ("tried", "failed", "value"))
            if failed or tried:
                voicing = self.voicings[goal.pk]
                counted = clean_count(voicing, failed or ())
                if value is not None and value != counted:
                    self.add_error(
                        f"value-{goal.code}",
                        _("By the strings you marked it is %(counted)s. Change one of the two.")
                        % {"counted": counted},
                    )
                data[f"value-{goal.code}"] = counted

    def _is_note_alone(self, data: dict[str, Any]) -> bool:
        """Whether only the hand was answered: nobody needs to have practised for that. Whatever else was typed but the
        day, or is wrong, belongs to a session."""
        if not self._says_hand(data) or data.get("total") or "total" in self.errors:
            return False
        for name in (f"{kind}-{goal.code}" for goal in self.goals for kind in ("minutes", "value", "tried", "failed")):
            nothing = (None, 0) if name.startswith("minutes") else (None, "", [])
            if name in self.errors or (data.get(name) not in nothing and data.get(name) is not False):
                return False
        return True

    def _clean_note_alone(self, data: dict[str, Any]) -> None:
        if data.get("note", "").strip():
            self.add_error("note", NOTE_WITH_MINUTES)
        day = data.get("day")
        if day is None or "start" in self.errors:
            return
        if code := handcheck.wrong_day(day, self.student.studio.today(self.now), self.student.joined):
            self.add_error("day", WIRE_WORDS[code])
            return
        at = note_instant(day, data.get("start"), self.now, self.student.studio.zone)
        if at > self.now + AHEAD:
            self.add_error("start", _("That time is still to come."))
        data["at"] = min(at, self.now)

    def _clean_minutes(self, data: dict[str, Any]) -> None:
        spent = [data.get(f"minutes-{goal.code}") or 0 for goal in self.goals]
        total = data.get("total")
        if total is None and "total" not in self.errors:
            if sum(spent):
                data["total"] = sum(spent)
            elif not any(f"minutes-{goal.code}" in self.errors for goal in self.goals):
                self.add_error("total", _("How many minutes was it?"))
        elif total == 0:
            self.add_error("total", _("How many minutes was it?"))
        elif total is not None and sum(spent) > total + 60:
            self.add_error("total", _("The goals' minutes add up to more than this."))
        elif total is not None:
            data["total"] = max(total, sum(spent))

    def _clean_time(self, data: dict[str, Any]) -> None:
        day, seconds = data.get("day"), data.get("total")
        if not day or not seconds or self.errors.keys() & {"day", "start", "total"}:
            return
        if seconds > LONGEST:
            self.add_error("total", FAULT_WORDS[Fault.TOO_LONG])
            return
        zone = self.student.studio.zone
        tz = zoneinfo.ZoneInfo(zone)
        today = self.student.studio.today(self.now)
        if day > today:
            self.add_error("day", _("That day is still to come."))
            return
        if (today - day).days > OLDEST_DAYS:
            self.add_error("day", FAULT_WORDS[Fault.TOO_OLD])
            return
        if data.get("start") is None:
            data["begun"] = place_in_day(day, seconds, self.now, zone, self.spans)
            data["placed"] = True
            return
        begun = dt.datetime.combine(day, data["start"], tzinfo=tz).astimezone(dt.UTC)
        data["begun"] = begun
        for fault in faults(begun, seconds, self.now, self.spans):
            if fault is Fault.OVERLAP:
                other = overlapping((begun, begun + dt.timedelta(seconds=seconds)), self.spans)
                self.add_error(
                    "start",
                    _(
                        "A session from %(begun)s to %(end)s is already logged. Correct the start or the minutes."
                    )
                    % {
                        "begun": f"{other[0].astimezone(tz):%H:%M}",
                        "end": f"{other[1].astimezone(tz):%H:%M}",
                    },
                )
            else:
                self.add_error("start" if fault is Fault.FUTURE else "day", FAULT_WORDS[fault])

    def _clean_hand(self, data: dict[str, Any]) -> None:
        super()._clean_hand(data)
        begun, seconds = data.get("begun"), data.get("total")
        if data.get("discomfort") is None or begun is None or self.errors.keys() & {"day", "start", "total"}:
            return
        end = begun + dt.timedelta(seconds=seconds)
        if handcheck.too_early(end, self.student.joined, self.student.studio.zone):
            self.add_error("day", WIRE_WORDS["wire-before-joined"])

    def renew_code(self) -> None:
        """A code of its own for the next try, with everything that was typed kept."""
        self.data = self.data.copy()
        self.data[self.add_prefix("code")] = str(uuid.uuid4())

    def note_record(self) -> HandNoteRecord:
        """The plain record of a valid form in which only the hand was answered."""
        data = self.cleaned_data
        return HandNoteRecord(data["code"], data["at"], self._hand(data))

    def record(self) -> EntryRecord:
        """The plain record of a valid form that is no note alone."""
        data = self.cleaned_data
        segments, results = [], []
        for goal in self.goals:
            if seconds := data.get(f"minutes-{goal.code}"):
                segments.append((goal.code, seconds))
            value = data.get(f"value-{goal.code}")
            if value not in (None, ""):
                failed = tuple(data.get(f"failed-{goal.code}") or ())
                results.append(ResultRecord(goal.code, goal.measure, float(value), failed))
        return EntryRecord(
            code=data["code"],
            begun=data["begun"],
            seconds=data["total"],
            segments=tuple(segments),
            results=tuple(results),
            tiring=data.get("tiring"),
            tiring_in_words=data.get("tiring") is not None and self.in_words,
            hand=self.hand_record(),
            note=data["note"].strip(),
            placed=data.get("placed", False),
        )


VALUE_WORDS = {
    "clean": _("Clean strings, first try"),
    "landings": _("Landings of five, first try"),
    "changes": _("Changes a minute, first try"),
    "tempo": _("Highest tempo, twice through"),
    "seconds": _("Seconds for all twelve, first try"),
    "right": _("Right answers a minute, first try"),
    "runs": _("Run-throughs of three without a stop"),
    "mark": _("Mark, 0 to 5"),
}


def minutes_words(seconds: int) -> str:
    minutes = max(1, round(seconds / 60))
    return ngettext("%(count)d minute", "%(count)d minutes", minutes) % {"count": minutes}
