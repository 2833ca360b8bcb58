"""A term's days and the teacher's words for its report, as typed."""

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from practice.report import LONGEST
from students.forms import DayInput

MOST_WORDS = 2000


def _day(label: Any) -> forms.DateField:
    return forms.DateField(label=label, widget=DayInput)


class TermForm(forms.Form):
    """The term alone: it has begun, ends at or after its start, and is a year long at most."""

    start = _day(gettext_lazy("From"))
    end = _day(gettext_lazy("To, and with"))

    def __init__(self, data: Any = None, *, today: dt.date, **more: Any) -> None:
        super().__init__(data, **more)
        self.today = today

    def clean_start(self) -> dt.date:
        start = self.cleaned_data["start"]
        if start > self.today:
            raise ValidationError(_("This term has not begun yet."))
        if start < dt.date(1990, 1, 1):
            raise ValidationError(_("Is the year right?"))
        return start

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        start, end = given.get("start"), given.get("end")
        if start and end and end < start:
            self.add_error("end", _("The term would end before it begins."))
        elif start and end and end - start > LONGEST:
            self.add_error("end", _("A report covers a year at most."))
        return given


class WordsForm(TermForm):
    """The same with the teacher's words; the days were chosen before and come along."""

    start = forms.DateField(widget=forms.HiddenInput)
    end = forms.DateField(widget=forms.HiddenInput)
    words = forms.CharField(
        label=gettext_lazy("Your words"),
        required=False,
        max_length=MOST_WORDS,
        help_text=gettext_lazy("The family reads this in the report. A new line begins a new paragraph."),
        widget=forms.Textarea(attrs={"rows": 8}),
    )
