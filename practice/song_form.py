"""A song as it is typed: one form for the page and for each line of a file, so that both know the same rules."""

import unicodedata
from collections.abc import Collection
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from practice.goal_terms import plain_key
from practice.models import Song
from practice.songbook import SongFacts
from students.forms import is_one_line
from studio import theory

FIELDS = ("title", "key", "capo", "chords", "level", "tags")
MOST_SONGS = 2_000  # in one teacher's book
MOST_TAGS = 12


def _length(name: str) -> int:
    return Song._meta.get_field(name).max_length or 0


def is_plain_text(text: str) -> None:
    """Several lines are fine, other control characters are not."""
    if any(unicodedata.category(sign) == "Cc" and sign not in "\n\t" for sign in text.replace("\r\n", "\n")):
        raise ValidationError(_("There is a control character in this. Type it anew."))


class SongForm(forms.Form):
    """taken: titles of the teacher's other songs. Chords that cannot be read are no error: they are kept as typed, and
    shown with their place."""

    title = forms.CharField(
        label=_("Title"), max_length=_length("title"), validators=[is_one_line],
        error_messages={"required": _("Give the song a title.")}, widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    chords = forms.CharField(
        label=_("Chords, as fingered"), max_length=_length("chords"), validators=[is_plain_text],
        error_messages={"required": _("Write the song’s chords, such as G C D Em or I IV V vi.")},
        help_text=_("Symbols, or numerals in the key. Bars, “Verse:” and line breaks are fine."),
        widget=forms.Textarea(attrs={"rows": 5, "autocapitalize": "off", "spellcheck": "false", "class": "code"}),
    )  # fmt: skip
    key = forms.CharField(
        label=_("Key, as fingered"), required=False, max_length=_length("key"),
        help_text=_("Such as G or F# minor; numerals count from it."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "short", "list": "keys", "spellcheck": "false"}),
    )  # fmt: skip
    capo = forms.IntegerField(
        label=_("Capo at fret"), required=False, min_value=0, max_value=12,
        help_text=_("Empty or 0 for none."),
        error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), _("Write a whole number from 0 to 12.")),
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    level = forms.CharField(
        label=_("Level"), required=False, max_length=_length("level"), validators=[is_one_line],
        help_text=_("In your own words or numbers."), widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    tags = forms.CharField(
        label=_("Tags"), required=False, max_length=_length("tags"), validators=[is_one_line],
        help_text=_("Separated by commas."), widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip

    def __init__(self, *args: Any, taken: Collection[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.taken = taken

    def clean_title(self) -> str:
        title = " ".join(self.cleaned_data["title"].split())
        if title in self.taken:
            raise ValidationError(_("The book has a song of this title. Add a word to tell them apart."))
        return title

    def clean_key(self) -> str:
        text = self.cleaned_data["key"]
        if text:
            try:
                theory.Key.parse(text)
            except theory.TheoryError as error:
                raise ValidationError(_(error.template).format(**error.values)) from None
        return plain_key(text) if text else ""

    def clean_capo(self) -> int:
        return self.cleaned_data["capo"] or 0

    def clean_chords(self) -> str:
        text = self.cleaned_data["chords"].replace("\r\n", "\n")
        return "\n".join(line.rstrip() for line in text.split("\n")).strip()

    def clean_level(self) -> str:
        return " ".join(self.cleaned_data["level"].split())

    def clean_tags(self) -> str:
        tags = tags_of(self.cleaned_data["tags"])
        if len(tags) > MOST_TAGS:
            raise ValidationError(_("At most %(most)s tags.") % {"most": MOST_TAGS})
        return ", ".join(tags)


def tags_of(text: str) -> list[str]:
    """The tags of a list with commas, none twice."""
    return list(dict.fromkeys(tag for part in text.split(",") if (tag := " ".join(part.split()))))


def typed_song(form: SongForm) -> SongFacts:
    """The song as it is being typed, whatever is wrong with it: for the preview."""
    typed = {name: str(form[name].value() or "") for name in FIELDS}
    capo = typed["capo"].strip()
    # what is no number is told beside its field; here it counts as none
    high = int(capo) if capo.isascii() and capo.isdigit() and len(capo) < 3 else 0
    chords = typed["chords"].replace("\r\n", "\n")[: _length("chords")]
    return SongFacts(typed["title"].strip(), chords, typed["key"].strip()[:40], min(high, 12))


def initial_of(song: Song) -> dict[str, Any]:
    """The form's fields of a stored song."""
    return {name: getattr(song, name) for name in FIELDS}
