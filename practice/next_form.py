"""What is typed about suggestions: why one is declined, and in which order a teacher teaches."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from practice.models import Declined
from practice.suggest import STEPS, steps_of
from studio import theory

STEP_WORDS = {
    "open": _("Open chords, and small forms of them"),
    "no-index": _("The open form without the index"),
    "small-barre": _("Small forms of F and Bm"),
    "e-major": _("E-shape major, and power chords"),
    "minors": _("A-shape minor and E-shape minor"),
    "a-major": _("A-shape major"),
    "sevenths": _("Sevenths, open and movable"),
    "later": _("maj7, sus4, the D-shape, inner strings of C- and G-shapes"),
}


def _is_candidate(text: str) -> None:
    shape, _sep, root = text.partition("@")
    try:
        known = root in tuple("12345678") if shape == "roots" else shape in theory.SHAPES and theory.Note(root)
    except theory.TheoryError:
        known = False
    if not known:
        raise ValidationError(_("This names no suggestion. Load the page again."), code="candidate")


class DeclineForm(forms.ModelForm):
    class Meta:
        model = Declined
        fields = ("candidate", "reason", "words")

    candidate = forms.CharField(max_length=60, validators=[_is_candidate], widget=forms.HiddenInput)
    reason = forms.ChoiceField(
        label=_("Reason"), choices=Declined.Reason.choices, error_messages={"required": _("Choose a reason.")}
    )
    words = forms.CharField(
        label=_("Another reason, in your words"), required=False, max_length=300,
        help_text=_("The family may ask to see this."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("reason") == Declined.Reason.OTHER and not data.get("words"):
            self.add_error("words", _("Write the reason, or choose one of the others."))
        return data


class OrderForm(forms.Form):
    """A number for each step. Of steps with the same number those that came up from below stand first, those that came
    down last, so that a number typed is the place got."""

    def __init__(self, data: Any = None, *, order: Iterable[object]) -> None:
        super().__init__(data)
        self.order = steps_of(order) or tuple(STEPS)
        for place, step in enumerate(self.order, start=1):
            self.fields[step] = forms.IntegerField(
                label=STEP_WORDS[step], min_value=1, max_value=99, initial=place,
                widget=forms.NumberInput(attrs={"inputmode": "numeric", "class": "short"}),
                error_messages={"invalid": _("Write a whole number."), "required": _("Write its place, 1 or more.")},
            )  # fmt: skip

    def moved(self, up: str, down: str) -> tuple[str, ...]:
        """The order that the numbers give, with one step moved up or down; () where it is the usual one."""
        places = {step: place for place, step in enumerate(self.order, start=1)}

        def rank(step: str) -> tuple[int, int]:
            typed = self.cleaned_data[step]
            return typed, (typed > places[step]) - (typed < places[step])

        order = sorted(self.order, key=rank)
        for step, by in ((up, -1), (down, 1)):
            if step in order:
                place = order.index(step)
                order.insert(min(max(place + by, 0), len(order) - 1), order.pop(place))
        return steps_of(order)
