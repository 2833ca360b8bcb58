"""The questions about a hand, in one place for every form that asks them, and the forms that ask nothing else.

A log (practice.entry_form) asks them beside the session; `HandNoteForm` keeps a note by itself, since nobody needs to
have practised to say that a hand hurts; `HandAskForm` is answered and keeps nothing. What is asked goes with the
reader: a child reads of the hand that presses, and not of daily tasks.
"""

import datetime as dt
import uuid
from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import capfirst, format_lazy
from django.utils.translation import gettext_lazy as _

from practice import handcheck
from practice.hand_words import TICKED
from practice.handanswer import CHILD, FAMILY, UNKNOWN
from practice.handrows import ALSO, ASKS_FURTHER, FIRM, FIRST_ALSO, FURTHER_ALSO, NUMB, SKIN_SENSATIONS, WEAK
from practice.models import HandNote
from practice.record import HandNoteRecord, HandRecord, note_instant
from practice.wire_words import TEMPLATES as WIRE_WORDS
from students.forms import DayInput
from students.models import Student

# What a child under 8 is asked by an adult; the numbers are practice.handcheck.WORDS.
THREE_WORDS = [("0", _("all is well")), ("2", _("a little")), ("5", _("some")), ("8", _("a lot"))]
KEPT_AS_WORDS = _("Three words, kept as 2, 5 and 8 and marked as words.")

# Every answer of a hand note that a form asks for.
HAND_FIELDS = (
    "discomfort", "also", "face_arm_leg", "hand", "place", "sensation", "settles", "rested", "began",
    *(name for name in handcheck.ASKED if name != "face_arm_leg"),
)  # fmt: skip

CHOOSE = _("Choose a number from 0 to 10; 0 is all is well.")
ANY_OF_THESE = _("Any of these?")
FACE = _("Is an arm, a leg or one side of the face suddenly numb or weak?")
# for whoever is under 13, or might be
YOUNG = {
    "sensation": _("What it is like"),
    "settles": _("It goes away"),
    "began": _("It began"),
    "at_rest": _("Also when you rest, or at night?"),
    "daily": _("In the way when you write or do buttons?"),
    "tip_only": _("Numb only at the tip of a finger, and gone within the hour?"),
}
YOUNG_HANDS = {HandNote.Hand.FRETTING: _("the hand that presses"), HandNote.Hand.PICKING: _("the hand that plucks")}


def _asked(name: str) -> str:
    return capfirst(HandNote._meta.get_field(name).verbose_name)


# Numbness and weakness are ticked under "Any of these?", at any number.
_OFFERED = [one for one in HandNote.Sensation.choices if one[0] not in (NUMB, WEAK)]
# Words for fingertip skin, and words for any place.
SENSATIONS = [
    (_("fingertip skin"), [one for one in _OFFERED if one[0] in SKIN_SENSATIONS]),
    (_("any place"), [one for one in _OFFERED if one[0] not in SKIN_SENSATIONS]),
]

# Fingers by the number that diagrams give them; the thumb is T.
NUMBERED = {"index": "1", "second": "2", "third": "3", "little": "4", "thumb": "T"}
PLACES = [
    (value, format_lazy("{} {}", NUMBERED[value], label) if value in NUMBERED else label)
    for value, label in HandNote.Place.choices
]


class HandQuestions(forms.Form):
    """Adds the questions to a form (`ask_hand`), and reads the answers as a plain record."""

    asks_hand = False
    in_words = False
    young = False

    def ask_hand(self, student: Student, today: dt.date, voice: str) -> None:
        """voice: of whoever answers (practice.handanswer.VOICES)."""
        self.asks_hand = True
        age = student.age(today)
        self.in_words = age is not None and age < handcheck.WORDS_BELOW_AGE
        self.young = voice in (CHILD, UNKNOWN)
        self._ask_number(student, voice)
        self.fields["also"] = forms.MultipleChoiceField(
            label=ANY_OF_THESE,
            required=False,
            choices=[(code, TICKED[code]) for code in ALSO],
            widget=forms.CheckboxSelectMultiple,
        )
        self._ask_yes("face_arm_leg", FACE)
        for name, choices in (("hand", self._hands(student)), ("place", PLACES)):
            self.fields[name] = forms.ChoiceField(
                label=_asked(name), choices=choices, required=False, widget=forms.RadioSelect
            )
        for name, choices in (
            ("sensation", SENSATIONS),
            ("settles", HandNote.Settles.choices),
            ("began", HandNote.Began.choices),
        ):
            self.fields[name] = forms.ChoiceField(
                label=self._label(name), choices=[("", _("choose")), *choices], required=False
            )
        self.fields["rested"] = self._number(_("And after ten minutes’ rest?"))
        for name in handcheck.ASKED:
            if name != "face_arm_leg":
                self._ask_yes(name, self._label(name))

    def _label(self, name: str) -> Any:
        return YOUNG[name] if self.young else _asked(name)

    def _ask_number(self, student: Student, voice: str) -> None:
        label, scale = _("How does your hand feel?"), _("0 all is well, 10 worst discomfort you can think of")
        if voice == FAMILY:
            label = format_lazy(_("How does {name}’s hand feel?"), name=student.first_name)
        if self.in_words:
            label, scale = _("An adult asks: how does your hand feel?"), KEPT_AS_WORDS
        self.fields["discomfort"] = self._number(label, scale)

    def _number(self, label: Any, help_text: Any = "") -> forms.TypedChoiceField:
        return number_field(label, help_text, THREE_WORDS if self.in_words else None)

    def _ask_yes(self, name: str, label: Any) -> None:
        self.fields[name] = forms.TypedChoiceField(
            label=label,
            coerce=lambda answer: answer == "yes",
            empty_value=None,
            required=False,
            choices=[("yes", _("yes")), ("no", _("no"))],
            widget=forms.RadioSelect,
        )

    def _hands(self, student: Student) -> list[tuple[str, Any]]:
        """Which hand, with its side: the fretting hand follows from how the student plays."""
        left, right = _("left"), _("right")
        frets, picks = (right, left) if student.plays == "left" else (left, right)
        sides = {HandNote.Hand.FRETTING: frets, HandNote.Hand.PICKING: picks}
        words = dict(HandNote.Hand.choices) | (YOUNG_HANDS if self.young else {})
        return [
            (value, format_lazy("{}, {}", label, sides[value]) if value in sides else label)
            for value, label in words.items()
        ]

    # -- for the template and hand.js ----------------------------------------------------------------------------------

    @property
    def firm(self) -> int:
        """From which discomfort on more is asked."""
        return FIRM

    @property
    def asking(self) -> str:
        """The ticks, parted by spaces, with which more is asked at any number (practice.handcare.asks_more), and with
        which the question about arm, leg and face is."""
        return f"{NUMB} {WEAK}"

    @property
    def further(self) -> str:
        """The ticks after which the further ones are asked."""
        return " ".join(ASKS_FURTHER)

    @property
    def also_first(self) -> list[Any]:
        return self._boxes(FIRST_ALSO)

    @property
    def also_further(self) -> list[Any]:
        return self._boxes(FURTHER_ALSO)

    def _boxes(self, codes: tuple[str, ...]) -> list[Any]:
        return [box for box in self["also"] if box.data["value"] in codes]

    # -- what was answered ---------------------------------------------------------------------------------------------

    def _says_hand(self, data: Mapping[str, Any]) -> bool:
        """Whether anything of the hand was answered, rightly or wrongly."""
        return self.asks_hand and any(
            data.get(name) not in (None, "", []) or name in self.errors for name in HAND_FIELDS
        )

    def _clean_hand(self, data: dict[str, Any]) -> None:
        if "discomfort" in self.errors:
            return
        if data.get("discomfort") is None:
            if self._says_hand(data):
                self.add_error("discomfort", WIRE_WORDS["wire-words" if self.in_words else "wire-discomfort"])
            return
        for name, code in handcheck.wrong(self._hand(data)):
            if name not in self.errors:
                self.add_error(name, WIRE_WORDS[code])

    def _hand(self, data: Mapping[str, Any]) -> HandRecord:
        empty = vars(HandRecord(0))
        given = {name: empty[name] if data.get(name) is None else data[name] for name in HAND_FIELDS}
        return handcheck.fitting(HandRecord(**given | {"also": tuple(given["also"])}, in_words=self.in_words))

    def hand_record(self) -> HandRecord | None:
        """What a valid form says of the hand, None for nothing."""
        said = self.asks_hand and self.cleaned_data.get("discomfort") is not None
        return self._hand(self.cleaned_data) if said else None

    def hand_so_far(self) -> HandRecord | None:
        """What can be read of the hand in a form that is not valid: help must not wait for a missing place."""
        data = getattr(self, "cleaned_data", {})
        answered = self.asks_hand and any(data.get(name) not in (None, "", []) for name in HAND_FIELDS)
        return self._hand(data) if answered else None


def number_field(label: Any, help_text: Any, words: list[tuple[str, Any]] | None) -> forms.TypedChoiceField:
    """0 to 10 in a row, or three words and "all is well" for a young child."""
    return forms.TypedChoiceField(
        label=label,
        help_text=help_text,
        coerce=int,
        empty_value=None,
        required=False,
        choices=words or [(str(n), str(n)) for n in range(11)],
        widget=forms.RadioSelect(attrs={} if words else {"class": "scale"}),
    )


class HandAskForm(HandQuestions):
    """The questions for the answer alone: nothing of it is kept."""

    def __init__(self, *args: Any, student: Student, now: dt.datetime, voice: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.student, self.now = student, now
        self.ask_hand(student, student.studio.today(now), voice)
        number = self.fields["discomfort"]
        number.required = True
        number.error_messages["required"] = WIRE_WORDS["wire-words"] if self.in_words else CHOOSE

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        self._clean_hand(data)
        return data


class HandNoteForm(HandAskForm):
    """A note by itself, with its day and the code under which it is stored once."""

    code = forms.UUIDField(widget=forms.HiddenInput)
    day = forms.DateField(label=_("Day"), widget=DayInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        today = self.student.studio.today(self.now)
        self.fields["code"].initial = uuid.uuid4
        self.fields["day"].initial = today
        self.fields["day"].widget.attrs["max"] = today.isoformat()

    def clean_day(self) -> dt.date:
        day = self.cleaned_data["day"]
        if code := handcheck.wrong_day(day, self.student.studio.today(self.now), self.student.joined):
            raise ValidationError(WIRE_WORDS[code])
        return day

    def renew_code(self) -> None:
        """A code of its own for the next try, with everything that was chosen kept."""
        self.data = self.data.copy()
        self.data[self.add_prefix("code")] = str(uuid.uuid4())

    def record(self) -> HandNoteRecord:
        """The plain record of a valid form."""
        data = self.cleaned_data
        at = note_instant(data["day"], None, self.now, self.student.studio.zone)
        return HandNoteRecord(data["code"], at, self._hand(data))
