"""The teacher's forms about a hand: closing with what was done, and a stepwise return."""

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from practice.hand_acts import MISTAKE, PLAY, RETURN, Closing, Own
from practice.handreturn import Step
from students.forms import DayInput, is_one_line

# A return that began longer ago than this is begun anew rather than entered late.
BEGUN_WITHIN = dt.timedelta(days=31)
WAKING_MINUTES = 14 * 60


class CloseForm(forms.Form):
    """Closes a note or an episode. stops: it stopped all playing, so that a doctor or hand therapist must have had a
    look, and what follows is chosen."""

    then = forms.ChoiceField(
        label=gettext_lazy("What then?"), widget=forms.RadioSelect, initial=RETURN,
        choices=[
            (RETURN, gettext_lazy("begin the return step by step, today")),
            (PLAY, gettext_lazy("play as before, the clinician says")),
            (MISTAKE, gettext_lazy("it was noted by mistake")),
        ],
        error_messages={"required": gettext_lazy("Choose what follows.")},
    )  # fmt: skip
    cleared_by = forms.CharField(
        label=gettext_lazy("Who had a look?"), max_length=120, validators=[is_one_line], required=False,
        help_text=gettext_lazy("The doctor or hand therapist. Nobody is needed for a note made by mistake."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    words = forms.CharField(
        label=gettext_lazy("What was done"), max_length=300,
        help_text=gettext_lazy("In a few words. The family may ask to see this."),
        error_messages={"required": gettext_lazy("Say in a few words what was done, then close the note.")},
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip


    def __init__(self, *args: Any, stops: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.stops = stops
        if not stops:
            del self.fields["then"], self.fields["cleared_by"]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.stops and data.get("then") in (RETURN, PLAY) and not data.get("cleared_by", "x"):
            self.add_error(
                "cleared_by",
                _("Say which doctor or hand therapist had a look. Without that, what stopped all playing stays open."),
            )
        return data

    @property
    def closing(self) -> Closing:
        data = self.cleaned_data
        then = data.get("then", "")
        return Closing(data["words"].strip(), then, "" if then == MISTAKE else data.get("cleared_by", "").strip())


class BeginForm(forms.Form):
    """Begins a return once a doctor or hand therapist has cleared the hand."""

    cleared_by = forms.CharField(
        label=gettext_lazy("Cleared by"), max_length=120, validators=[is_one_line],
        help_text=gettext_lazy("The doctor or hand therapist who said that playing may begin again."),
        error_messages={"required": gettext_lazy("Say who cleared the hand. Without that no return is begun.")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    day = forms.DateField(label=gettext_lazy("First day"), widget=DayInput)
    words = forms.CharField(
        label=gettext_lazy("Your words to the student"), max_length=300, required=False,
        help_text=gettext_lazy("What to play in these minutes, such as open strings or two easy chords."),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def __init__(self, *args: Any, today: dt.date, joined: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.joined = today, joined
        self.fields["day"].initial = today

    def clean_day(self) -> dt.date:
        day = self.cleaned_data["day"]
        if day > self.today:
            raise ValidationError(_("That day is still to come. Begin the return on the day itself."))
        if day < max(self.joined, self.today - BEGUN_WITHIN):
            raise ValidationError(_("That is too long ago. Begin it with a day of the last month."))
        return day


class OwnStepForm(forms.Form):
    """A step from the third on, in the numbers that teacher and clinician agreed on."""

    play = forms.IntegerField(label=gettext_lazy("Minutes of playing"), min_value=1, max_value=120)
    rest = forms.IntegerField(label=gettext_lazy("Minutes of rest between"), min_value=0, max_value=240)
    rounds = forms.IntegerField(label=gettext_lazy("Times a day"), min_value=1, max_value=10)
    barre = forms.BooleanField(
        label=gettext_lazy("Barre chords belong to this step"), required=False,
    )  # fmt: skip
    words = forms.CharField(
        label=gettext_lazy("Your words to the student"), max_length=300, required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        play, rest, rounds = (data.get(name) for name in ("play", "rest", "rounds"))
        if None not in (play, rest, rounds) and play * rounds + rest * (rounds - 1) > WAKING_MINUTES:
            self.add_error("rounds", _("With its rests that is longer than a day. Fewer times, or less rest."))
        return data

    @property
    def own(self) -> Own:
        data = self.cleaned_data
        return Own(Step(data["play"], data["rest"], data["rounds"]), data["barre"], data["words"].strip())


class EndForm(forms.Form):
    words = forms.CharField(
        label=gettext_lazy("How it ended"), max_length=300,
        help_text=gettext_lazy("In a few words. The family may ask to see this."),
        error_messages={"required": gettext_lazy("Say in a few words how it ended, then end the return.")},
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip


class ReasonForm(forms.Form):
    """Why a goal that lays a finger flat is taken up again although barres rest."""

    hand_reason = forms.CharField(
        label=gettext_lazy("Your reason, in spite of the hand note"), max_length=300,
        help_text=gettext_lazy("The family may ask to see this."),
        error_messages={
            "required": gettext_lazy("Barres rest just now, and this lays a finger flat. Say why it is taken up now.")
        },
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
