"""Putting a performance down, and moving the due days of its goals: the form and the writes of its pages.

What counts back from the day is computed by practice.stage and never written by itself: due days move only when the
teacher has seen them from and to, and only those that still stand as they were shown.
"""

import datetime as dt
import unicodedata
from collections.abc import Iterable
from typing import Any

from django import forms
from django.db import transaction
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from practice.display import state_mark
from practice.facts import StudentFacts
from practice.models import Goal, Performance
from practice.progress import State
from practice.stage import DueDays, Move
from students.forms import DayInput, is_one_line
from students.models import Student

# A later day is a slip of the finger.
LATEST_AHEAD = dt.timedelta(days=3 * 366)
MOST_PIECES = 20
LONGEST_PIECE = 160


class PerformanceForm(forms.ModelForm):
    """Occasion, day, pieces and goals. Goals that are set aside stand in it only while they belong to it."""

    goals = forms.MultipleChoiceField(
        label=gettext_lazy("Goals that belong to it"), required=False, widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("Their due days can then count back from the day, and reviews keep them until then."),
        error_messages={"invalid_choice": gettext_lazy("One of these goals is not this student’s any more.")},
    )

    class Meta:
        model = Performance
        fields = ["title", "day", "pieces"]
        labels = {"title": gettext_lazy("Occasion")}
        widgets = {
            "title": forms.TextInput(attrs={"autocomplete": "off"}),
            "day": DayInput,
            "pieces": forms.Textarea(attrs={"rows": 4}),
        }

    def __init__(
        self, data: Any = None, *, student: Student, facts: StudentFacts, states: dict[str, State], today: dt.date,
        instance: Performance | None = None,
    ) -> None:  # fmt: skip
        super().__init__(data, instance=instance or Performance(student=student))
        self.student, self.today = student, today
        self.former_day = instance.day if instance else None
        mine = {str(goal.code) for goal in instance.goals.all()} if instance else set()
        self.fields["title"].validators.append(is_one_line)
        offered = [goal for goal in facts.goals if not goal.set_aside or goal.code in mine]
        self.fields["goals"].choices = [
            (goal.code, f"{goal.title} ({state_mark(states[goal.code].code).word})") for goal in offered
        ]
        self.initial["goals"] = sorted(mine)
        if not offered:
            del self.fields["goals"]

    def clean_title(self) -> str:
        return self.cleaned_data["title"].strip()

    def clean_day(self) -> dt.date:
        day = self.cleaned_data["day"]
        if day < self.student.joined:
            raise forms.ValidationError(
                _("%(name)s has been with the studio since %(day)s.")
                % {"name": self.student.name, "day": date_format(self.student.joined, "j F Y")}
            )
        if day > self.today + LATEST_AHEAD:
            raise forms.ValidationError(_("That is more than three years ahead. Check the year."))
        return day

    def clean_pieces(self) -> str:
        lines = [" ".join(line.split()) for line in self.cleaned_data["pieces"].splitlines()]
        lines = [line for line in lines if line]
        if any(unicodedata.category(character) in {"Cc", "Cs"} for line in lines for character in line):
            raise forms.ValidationError(_("Write the pieces without control characters."))
        if len(lines) > MOST_PIECES:
            raise forms.ValidationError(
                _("That is %(count)s pieces; write at most %(most)s.") % {"count": len(lines), "most": MOST_PIECES}
            )
        long = next((line for line in lines if len(line) > LONGEST_PIECE), None)
        if long is not None:
            raise forms.ValidationError(
                _("“%(start)s …” is too long for one piece. Write one on a line.") % {"start": long[:30]}
            )
        return "\n".join(lines)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        title, day = data.get("title"), data.get("day")
        if title and day:
            others = Performance.objects.filter(student=self.student, day=day).exclude(pk=self.instance.pk)
            if any(one.title.casefold() == title.casefold() for one in others):
                self.add_error("title", _("This is put down for that day already."))
        return data

    @transaction.atomic
    def save(self, commit: bool = True) -> Performance:
        performance = super().save()
        chosen = self.cleaned_data.get("goals", [])
        performance.goals.set(Goal.objects.filter(student=self.student, code__in=chosen))
        return performance

    @property
    def moved(self) -> bool:
        """Whether an older performance has got another day."""
        return self.former_day is not None and self.former_day != self.cleaned_data["day"]


def move_due_days(student: Student, found: DueDays, shown: Iterable[tuple[str, str]]) -> tuple[list[Move], list[str]]:
    """Writes the due days that were ticked, all or nothing each: what moved, and the titles of what did not.

    shown: (goal code, ISO day from which it was shown to move). A due day that has been changed since is left alone.
    """
    offered = {move.goal.code: move for move in found.moves}
    title = {goal.code: goal.title for goal in (*found.right, *found.secure, *found.aside)}
    moved, left = [], []
    for code, before in dict(shown).items():
        move = offered.get(code)
        if move is None:
            # set, secure or set aside meanwhile, or none of this performance's
            left += [title[code]] if code in title else []
            continue
        changed = 0
        if move.before.isoformat() == before:
            rows = Goal.objects.filter(
                student=student, code=code, due=move.before, set_aside_at__isnull=True
            )
            changed = rows.update(due=move.after, changed_at=timezone.now())
        (moved.append(move) if changed else left.append(move.goal.title))
    return moved, left
