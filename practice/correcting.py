"""Correcting a stored entry on a plain page: who may, the form, and what stood before, in words.

The form is read by the same parser as the phone's entries (practice.wire), so that one rule has one place. What was
said of the hand is neither shown nor changed here.
"""

import datetime as dt
import json
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from practice import wire
from practice.display import measured_text
from practice.entry_form import VALUE_WORDS, MinutesField, minutes_words
from practice.logwork import first_voicing
from practice.measures import MEASURES, MEASURES_OF_KIND
from practice.models import Goal, PracticeEntry, RemovedEntry
from practice.record import EntryRecord, Span
from practice.store import record_of
from practice.wire_words import in_words
from students.forms import DayInput, TimeOfDayInput
from students.models import Student
from studio import theory

# For how long a student may correct what was stored; after that it is the teacher's to do.
CORRECTED_FOR = dt.timedelta(hours=48)


def why_not_student(entry: PracticeEntry, now: dt.datetime) -> str:
    """Why the student may not correct or remove an entry of theirs, in words, or ""."""
    if entry.by != PracticeEntry.By.STUDENT:
        return _("Somebody else logged this session: ask your teacher to correct it.")
    if any(one.get("by") == PracticeEntry.By.TEACHER for one in entry.former):
        return _("Your teacher has corrected this session: ask for a change in the lesson.")
    if now - entry.stored_at > CORRECTED_FOR:
        return _("After two days your teacher corrects it: ask for it in the lesson.")
    return ""


def wire_goals(student: Student, goals: Iterable[Goal]) -> dict[uuid.UUID, wire.WireGoal]:
    """What the parser must know of the student's goals."""
    instrument = student.theory_instrument()
    return {
        goal.code: wire.WireGoal(
            tuple(measure for measure in MEASURES_OF_KIND[goal.kind] if measure != "minutes"),
            first_voicing(goal, instrument),
        )
        for goal in goals
    }


# -- the form --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Value:
    """A measure of a goal in the form: its value, and the boxes of the strings that failed, where it has some."""

    measure: str
    value: forms.BoundField
    failed: forms.BoundField | None


@dataclass(frozen=True)
class Part:
    """A goal in the form."""

    goal: Goal
    minutes: forms.BoundField
    values: tuple[Value, ...]


class CorrectionForm(forms.Form):
    """Fields: m-<goal> minutes, v-<goal>-<measure> values, f-<goal>-<measure> strings that failed."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=1_000_000)
    day = forms.DateField(
        label=gettext_lazy("Day"), widget=DayInput
    )
    start = forms.TimeField(
        label=gettext_lazy("Started at"),
        required=False,
        widget=TimeOfDayInput,
        help_text=gettext_lazy("Empty if nobody knows."),
    )
    total = MinutesField(label=gettext_lazy("Minutes altogether"))
    note = forms.CharField(
        label=gettext_lazy("Note to the teacher"),
        required=False,
        max_length=wire.MOST_NOTE,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(
        self,
        data: Any = None,
        *,
        entry: PracticeEntry,
        goals: Mapping[uuid.UUID, Goal],
        spans: Iterable[Span],
        now: dt.datetime,
    ) -> None:
        """entry: as stored, with its student; goals: all of the student's by code; spans: of the other sessions."""
        self.entry, self.goals, self.spans, self.now = entry, dict(goals), list(spans), now
        self.before = record_of(entry)
        self.zone = entry.student.studio.zone
        begun = self.before.begun.astimezone(ZoneInfo(self.zone))
        first = {
            "version": entry.version,
            "day": begun.date(),
            "start": begun.time().replace(second=0, microsecond=0),
            "total": minutes_typed(self.before.seconds),
            "note": self.before.note,
        }
        super().__init__(data, initial=first)
        self.wire_goals = wire_goals(entry.student, goals.values())
        spent = dict(self.before.segments)
        stored = {(one.goal, one.measure): one for one in self.before.results}
        touched = set(spent) | {goal for goal, _measure in stored}
        self.measures: dict[uuid.UUID, list[str]] = {}
        for code, goal in self.goals.items():
            if goal.set_aside_at is not None and code not in touched:
                continue
            of_entry = [measure for held, measure in stored if held == code]
            offered = [goal.measure] if goal.measure in self.wire_goals[code].measures else []
            self.measures[code] = sorted({*of_entry, *offered}, key=list(MEASURES).index)
            self.fields[f"m-{code}"] = MinutesField(label=_("Minutes"))
            self.initial[f"m-{code}"] = minutes_typed(spent[code]) if code in spent else ""
            for measure in self.measures[code]:
                self._add_value(code, measure, stored.get((code, measure)))
        self.touched = touched

    def _add_value(self, code: uuid.UUID, measure: str, stored: Any) -> None:
        name, scale, voicing = f"{code}-{measure}", MEASURES[measure], self.wire_goals[code].voicing
        kind = forms.IntegerField if scale.whole else forms.FloatField
        self.fields[f"v-{name}"] = kind(
            label=VALUE_WORDS[measure],
            required=False,
            widget=forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        )
        if stored is not None:
            self.initial[f"v-{name}"] = int(stored.value) if stored.value == int(stored.value) else stored.value
        if measure == "clean" and voicing is not None:
            self.fields[f"f-{name}"] = forms.TypedMultipleChoiceField(
                label=_("Which strings failed?"),
                required=False,
                coerce=int,
                choices=[(n, theory.STRING[n]) for n in range(len(voicing.frets), 0, -1)],
                widget=forms.CheckboxSelectMultiple,
            )
            self.initial[f"f-{name}"] = [] if stored is None else list(stored.failed_strings)

    def parts(self) -> tuple[list[Part], list[Part]]:
        """(the goals of the entry, the student's other active goals), for the template."""
        theirs, others = [], []
        for code, measures in self.measures.items():
            values = tuple(
                Value(
                    measure,
                    self[f"v-{code}-{measure}"],
                    self[f"f-{code}-{measure}"] if f"f-{code}-{measure}" in self.fields else None,
                )
                for measure in measures
            )
            part = Part(self.goals[code], self[f"m-{code}"], values)
            (theirs if code in self.touched else others).append(part)
        return theirs, others

    # -- what was typed ----------------------------------------------------------------------------------------------

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.errors:
            return data
        body, fields = self._body(data)
        try:
            sent = wire.read(json.dumps(body).encode(), self.entry.code, self.wire_goals, {})
            # the instant was checked when it was stored; what overlaps it since is not this correction's fault
            moved = {"day", "start"} & set(self.changed_data) or sent.record.seconds != self.before.seconds
            record = wire.place(sent, self.now, self.zone, self.spans, check=bool(moved))
        except wire.WireError as error:
            for path, told in in_words(error.errors).items():
                name = fields.get(path) or fields.get(path.rpartition(".")[0])
                self.add_error(name if name in self.fields else None, told)
            return data
        # without a word of the hand: the store leaves what is stored of it
        self.record: EntryRecord = record
        return data

    def _body(self, data: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
        """The entry as the phone would send it, and the field of this form for each path in it."""
        changed = set(self.changed_data)
        body: dict[str, Any] = {"note": data["note"], "seconds": data["total"], "segments": [], "results": []}
        fields = {"seconds": "total", "note": "note", "day": "day", "begun": "start", "start": "start"}
        if {"day", "start"} & changed:
            body["day"] = data["day"].isoformat()
            if data["start"] is not None:
                body["start"] = f"{data['start']:%H:%M}"
        else:
            body["begun"] = self.before.begun.astimezone(dt.UTC).isoformat()
        for code, measures in self.measures.items():
            if seconds := data.get(f"m-{code}"):
                fields[f"segments.{len(body['segments'])}"] = f"m-{code}"
                body["segments"].append({"goal": str(code), "seconds": seconds})
            for measure in measures:
                if result := self._result(data, code, measure, changed):
                    path = f"results.{len(body['results'])}"
                    fields[path] = f"v-{code}-{measure}"
                    body["results"].append(result)
        return body, fields

    def _result(
        self, data: Mapping[str, Any], code: uuid.UUID, measure: str, changed: set[str]
    ) -> dict[str, Any] | None:
        value, failed = data.get(f"v-{code}-{measure}"), data.get(f"f-{code}-{measure}") or []
        retold = f"f-{code}-{measure}" in changed
        if value is None and not failed:
            return None
        result: dict[str, Any] = {"goal": str(code), "measure": measure}
        if failed or retold:
            result["failed"] = failed
        # the strings were told anew and the number left as it stood: it is counted again
        if value is not None and not (retold and f"v-{code}-{measure}" not in changed):
            result["value"] = value
        return result

    def take_version(self, version: int) -> None:
        """Lets what was typed be sent once more over the version that somebody else stored meanwhile."""
        self.data = self.data.copy()
        self.data["version"] = str(version)


def minutes_typed(seconds: int) -> str:
    """Seconds as the minutes' field reads them: "12" or "12:30", over an hour "1:05:00". Inverse of `read_minutes`."""
    if seconds % 60 == 0:
        return str(seconds // 60)
    if seconds < 3600:
        return f"{seconds // 60}:{seconds % 60:02}"
    return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"


# -- what stood before -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Former:
    """A correction: when, by whom, and in words what stood before and no longer does."""

    at: dt.datetime | None
    who: str
    before: tuple[str, ...]


def former_of(entry: PracticeEntry, titles: Mapping[str, str], zone: str) -> list[Former]:
    """The corrections of an entry, newest first. No query where the entry's segments and results were prefetched.

    titles: of the student's goals by code.
    """
    if not entry.former:
        return []
    now_stored = {
        "begun": entry.begun.isoformat(),
        "seconds": entry.seconds,
        "segments": [{"goal": str(one.goal.code), "seconds": one.seconds} for one in entry.segments.all()],
        "results": [
            {"goal": str(one.goal.code), "measure": one.measure, "value": one.value} for one in entry.results.all()
        ],
        "note": entry.note,
    }
    versions = [*(one["entry"] for one in entry.former), now_stored]
    found = []
    for number, one in enumerate(entry.former):
        before, after = (_told(version, titles, zone) for version in versions[number : number + 2])
        gone = tuple(words for name, words in before.items() if after.get(name) != words and words)
        new = [name for name in after if after[name] and not before.get(name)]
        lines = gone or ((_("less than now"),) if new else ())
        found.append(Former(parse_datetime(one.get("until", "")), _who(one), lines))
    return found[::-1]


def _who(kept: Mapping[str, Any]) -> str:
    by = dict(PracticeEntry.By.choices).get(kept.get("by", ""), "")
    name = kept.get("name", "")
    return _("%(name)s (%(by)s)") % {"name": name, "by": by} if name else str(by)


def _told(version: Mapping[str, Any], titles: Mapping[str, str], zone: str) -> dict[Any, str]:
    """What a version says, as words by what they are about."""
    begun = parse_datetime(version["begun"])
    when = begun.astimezone(ZoneInfo(zone)) if begun else None
    told: dict[Any, str] = {
        "begun": f"{when:%Y-%m-%d, %H:%M}" if when else "",
        "seconds": _minutes(version["seconds"]),
        "note": _("“%(note)s”") % {"note": version["note"]} if version["note"] else "",
    }
    for part in version["segments"]:
        title = titles.get(part["goal"], _("a goal that is gone"))
        told["s", part["goal"]] = f"{title}: {_minutes(part['seconds'])}"
    for part in version["results"]:
        title = titles.get(part["goal"], _("a goal that is gone"))
        told["r", part["goal"], part["measure"]] = f"{title}: {measured_text(part['value'], part['measure'])}"
    return told


def _minutes(seconds: int) -> str:
    return minutes_words(seconds) if seconds % 60 == 0 else _("%(minutes)s min") % {"minutes": minutes_typed(seconds)}


def summary_of(entry: PracticeEntry, titles: Mapping[str, str], zone: str) -> list[str]:
    """What is stored of an entry now, in words: for whoever meets another's correction."""
    version = wire.write(record_of(entry).without_hand())
    return [words for words in _told(version, titles, zone).values() if words]


def removed_lately(student: Student, now: dt.datetime) -> list[RemovedEntry]:
    """What was removed in the last four weeks, newest first. One query."""
    return list(student.removed_entries.filter(at__gt=now - dt.timedelta(weeks=4))[:20])
