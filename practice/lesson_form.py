"""The form that records a lesson: outcome, the teacher's words, checks of the goals and what happens to each.

A blank value means "not checked". Recording the same day again edits the same lesson: a value that was taken out
takes its check out.
"""

import datetime as dt
import zoneinfo
from typing import Any

from django import forms
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from practice.acts import SEPARATOR, Done, Taps, act
from practice.entry_form import VALUE_WORDS
from practice.goalwork import clean_count
from practice.measures import MEASURES, Measure
from practice.models import Goal, Result
from students.forms import DayInput, TimeOfDayInput
from students.models import Lesson, Student
from studio import theory

# A lesson may be called off or moved this long before its day.
AHEAD = dt.timedelta(days=120)
MIDDAY = dt.time(12)

Outcome = Lesson.Outcome


class GoalPart:
    """The fields of one goal within the form, for the template: the row, what can be tapped, the bound fields."""

    def __init__(self, form: "LessonForm", goal: Goal, taps: Taps) -> None:
        self.goal = goal
        self.taps = taps
        self.voicing = taps.voicing
        self.act = form[f"act-{goal.code}"] if f"act-{goal.code}" in form.fields else None
        self.hidden = [form[f"seen-{goal.code}"], form[f"shown-{goal.code}"]] if self.act else []
        self.rang = form[f"rang-{goal.code}"] if f"rang-{goal.code}" in form.fields else None
        self.failed = form[f"failed-{goal.code}"] if self.rang else None
        self.values = [form[name] for name in form.value_names(goal)]


class LessonForm(forms.Form):
    outcome = forms.ChoiceField(label=_("The lesson was"), choices=Outcome.choices, widget=forms.RadioSelect)
    time = forms.TimeField(
        label=_("Time"), required=False, widget=TimeOfDayInput
    )
    minutes = forms.IntegerField(
        label=_("Minutes"), min_value=10, max_value=180, widget=forms.NumberInput(attrs={"inputmode": "numeric"})
    )
    moved_day = forms.DateField(
        label=_("Moved to"), required=False, widget=DayInput,
        help_text=_("Only for a lesson that was moved: it then stands on Today of that day."),
    )
    moved_time = forms.TimeField(
        label=_("at"), required=False, widget=TimeOfDayInput
    )
    words = forms.CharField(
        label=_("Your words"), required=False, max_length=2000, help_text=_("The family may ask to see this."),
        widget=forms.Textarea(attrs={"rows": 4}),
    )

    def __init__(
        self,
        data: Any = None,
        *,
        student: Student,
        day: dt.date,
        now: dt.datetime,
        lesson: Lesson | None,
        goals: list[tuple[Goal, Taps]],
        checks: list[Result],
    ) -> None:
        """day: the lesson's; now: aware; lesson: what is recorded of the day; checks: its measurements."""
        super().__init__(data)
        self.student, self.day, self.now, self.lesson, self.goals = student, day, now, lesson, goals
        self.today = student.studio.today(now)
        self.checks = {(check.goal_id, check.measure): check for check in checks}
        self.initial = self._initial()
        for goal, taps in goals:
            self._add_values(goal, taps)
            if goal.set_aside_at is None:
                self._add_act(goal, taps)

    def _initial(self) -> dict[str, Any]:
        lesson = self.lesson
        return {
            "outcome": lesson.outcome if lesson else Outcome.HELD if self.day <= self.today else None,
            "time": (lesson.time if lesson else None) or self.student.lesson_time,
            "minutes": lesson.minutes if lesson else self.student.lesson_minutes,
            "words": lesson.words if lesson else "",
        }

    # -- fields of a goal ---------------------------------------------------------------------------------------

    def measures_of(self, goal: Goal) -> list[Measure]:
        """What can be checked of a goal: its own measure, and both counts of a chord."""
        codes = ["clean", "landings"] if goal.kind == Goal.Kind.CHORD else [goal.measure]
        return [MEASURES[code] for code in codes if code != "minutes"]

    def value_names(self, goal: Goal) -> list[str]:
        """The names of the goal's number fields."""
        names = [f"value-{goal.code}-{measure.code}" for measure in self.measures_of(goal)]
        return [name for name in names if name in self.fields]

    def _add_values(self, goal: Goal, taps: Taps) -> None:
        for measure in self.measures_of(goal):
            check = self.checks.get((goal.pk, measure.code))
            if measure.code == "clean" and taps.voicing is not None:
                self._add_strings(goal, taps.voicing, check)
                continue
            name = f"value-{goal.code}-{measure.code}"
            field = forms.IntegerField if measure.whole else forms.FloatField
            self.fields[name] = field(
                label=VALUE_WORDS[measure.code], required=False,
                min_value=int(measure.lowest), max_value=int(measure.highest),
                widget=forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            )
            if check is not None:
                self.initial[name] = int(check.value) if check.value.is_integer() else check.value

    def _add_strings(self, goal: Goal, voicing: theory.Voicing, check: Result | None) -> None:
        count = voicing.strings_sounding
        self.fields[f"rang-{goal.code}"] = forms.ChoiceField(
            label=VALUE_WORDS["clean"], required=False, widget=forms.RadioSelect,
            choices=[("", _("not checked")), ("all", _("all %(count)s rang") % {"count": count})],
        )
        self.fields[f"failed-{goal.code}"] = forms.TypedMultipleChoiceField(
            label=_("or tap the strings that failed"), required=False, coerce=int,
            choices=[(number, number) for number in range(len(voicing.frets), 0, -1)],
            widget=forms.CheckboxSelectMultiple,
        )
        if check is not None:
            self.initial[f"rang-{goal.code}"] = "" if check.failed_strings else "all"
            self.initial[f"failed-{goal.code}"] = check.failed_strings

    def _add_act(self, goal: Goal, taps: Taps) -> None:
        first_time = self.lesson is None
        self.fields[f"act-{goal.code}"] = forms.ChoiceField(
            label=_("And then"), required=False, widget=forms.RadioSelect, choices=taps.choices(),
            initial="keep" if first_time and goal.due <= self.day else "",
        )
        self.fields[f"seen-{goal.code}"] = forms.FloatField(
            required=False, widget=forms.HiddenInput, initial=goal.target
        )
        self.fields[f"shown-{goal.code}"] = forms.CharField(
            required=False, max_length=2000, widget=forms.HiddenInput, initial=SEPARATOR.join(taps.next_cautions)
        )

    def goal_parts(self) -> list[GoalPart]:
        return [GoalPart(self, goal, taps) for goal, taps in self.goals]

    # -- what makes sense ---------------------------------------------------------------------------------------

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for goal, taps in self.goals:
            self._clean_strings(goal, taps, data)
            self._clean_act(goal, taps, data)
        self._clean_outcome(data)
        self._clean_move(data)
        return data

    def _clean_strings(self, goal: Goal, taps: Taps, data: dict[str, Any]) -> None:
        failed = data.get(f"failed-{goal.code}") or []
        rang = data.get(f"rang-{goal.code}")
        if failed and rang == "all":
            self.add_error(
                f"rang-{goal.code}", _("All strings rang, and some are marked as failed. Change one of the two.")
            )
        elif failed or rang == "all":
            data[f"value-{goal.code}-clean"] = clean_count(taps.voicing, failed)

    def _clean_act(self, goal: Goal, taps: Taps, data: dict[str, Any]) -> None:
        if data.get(f"act-{goal.code}") != "next-root":
            return
        shown = set((data.get(f"shown-{goal.code}") or "").split(SEPARATOR))
        fresh = [text for signature, text in taps.next_cautions.items() if signature not in shown]
        if fresh:
            self.add_error(f"act-{goal.code}", " ".join(fresh))
            # what is now shown counts as seen when the form comes back
            self.data = self.data.copy()
            self.data[f"shown-{goal.code}"] = SEPARATOR.join(taps.next_cautions)

    def _clean_outcome(self, data: dict[str, Any]) -> None:
        outcome = data.get("outcome")
        if outcome is None:
            return
        if self.day > self.today and outcome in (Outcome.HELD, Outcome.NOT_COME):
            self.add_error("outcome", _("That day is still to come: record it when it is over."))
        elif outcome != Outcome.HELD and self._checked(data):
            self.add_error("outcome", _("Checks belong to a lesson that was held. Take them out or change this."))

    def _clean_move(self, data: dict[str, Any]) -> None:
        to = data.get("moved_day")
        if to is None:
            if data.get("moved_time") is not None:
                self.add_error("moved_day", _("Name the day as well."))
            return
        if data.get("outcome") not in (None, Outcome.MOVED):
            self.add_error("moved_day", _("Only a moved lesson has a new day: choose “moved” above or leave it empty."))
        elif to == self.day:
            self.add_error("moved_day", _("That is the same day."))
        elif abs(to - self.day) > AHEAD:
            self.add_error("moved_day", _("That is more than four months away. Check the year."))

    def _checked(self, data: dict[str, Any]) -> bool:
        return any(
            data.get(f"value-{goal.code}-{measure.code}") is not None
            for goal, _taps in self.goals
            for measure in self.measures_of(goal)
        )

    # -- storing --------------------------------------------------------------------------------------------------

    @transaction.atomic
    def save(self, teacher: Any) -> tuple[Lesson, list[Done]]:
        """Writes lesson, checks and what happens to the goals, all or nothing. Only for a valid form."""
        data = self.cleaned_data
        fields = ("outcome", "time", "minutes", "words")
        lesson, _created = Lesson.objects.update_or_create(
            student=self.student, day=self.day, defaults={name: data[name] for name in fields}
        )
        if data["moved_day"] is not None:
            Lesson.objects.get_or_create(
                student=self.student,
                day=data["moved_day"],
                defaults={
                    "outcome": Outcome.MOVED,
                    "time": data["moved_time"] or data["time"],
                    "minutes": data["minutes"],
                },
            )
        at = self._instant(data["time"])
        for goal, _taps in self.goals:
            for measure in self.measures_of(goal):
                self._save_check(lesson, goal, measure, at)
        done = []
        for goal, taps in self.goals:
            action = data.get(f"act-{goal.code}")
            if action:
                seen = data.get(f"seen-{goal.code}")
                done.append(act(goal, action, taps, day=self.today, now=self.now, teacher=teacher, seen=seen))
        return lesson, done

    def _save_check(self, lesson: Lesson, goal: Goal, measure: Measure, at: dt.datetime) -> None:
        value = self.cleaned_data.get(f"value-{goal.code}-{measure.code}")
        if value is None:
            Result.objects.filter(lesson=lesson, goal=goal, measure=measure.code).delete()
            return
        failed = self.cleaned_data.get(f"failed-{goal.code}") or [] if measure.code == "clean" else []
        Result.objects.update_or_create(
            lesson=lesson,
            goal=goal,
            measure=measure.code,
            defaults={"value": float(value), "failed_strings": failed},
            create_defaults={
                "student": self.student, "day": self.day, "at": at, "value": float(value), "failed_strings": failed,
            },
        )

    def _instant(self, time: dt.time | None) -> dt.datetime:
        """When the checks were made: now on the day itself, else at the lesson's time."""
        if self.day == self.today:
            return self.now
        zone = zoneinfo.ZoneInfo(self.student.studio.zone)
        return dt.datetime.combine(self.day, time or MIDDAY, tzinfo=zone).astimezone(dt.UTC)
