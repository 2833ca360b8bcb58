"""The form that sets a goal: one for the five kinds, checked by the theory core.

The form holds the typed fields (practice.goal_terms), builds the goal from them, and asks `theory.validate` what is
wrong with it: an error stands beside its field and blocks saving; a caution is shown, and saved as acknowledged when
it has been on the page before.
"""

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from practice.acts import signature
from practice.findings import field_of, finding_text
from practice.goal_terms import (
    FAMILIES,
    FIELDS,
    METRES,
    NAMED,
    NATURALS,
    TWELVE,
    family_of,
    goal_of,
    own_root,
)
from practice.goal_voicings import lays_flat
from practice.goalwork import first_voicing, most_of, offered_measure, offered_target
from practice.measures import MEASURES, MEASURES_OF_KIND, Measure
from practice.models import Goal, MeasureCode
from students.forms import DayInput
from studio import theory

SHARED = ("measure", "target", "start_value", "due", "words")
LATEST_DUE = dt.timedelta(days=730)

GROUPS = (
    ("E", _("E-shapes, root on the 6th string")),
    ("A", _("A-shapes, root on the 5th string")),
    ("open", _("Open chords")),
    ("small", _("Small forms")),
    ("C", _("C-shapes")),
    ("D", _("D-shapes")),
    ("G", _("G-shapes")),
)
FAMILY_WORDS = {
    "open": _("open chords"),
    "small": _("small forms"),
    "E": _("E-shapes"),
    "A": _("A-shapes"),
    "C": _("C-shapes"),
    "G": _("G-shapes"),
    "D": _("D-shapes"),
}
PROGRESSIONS = ("I IV V", "I V vi IV", "I vi IV V", "ii V I", "I vi ii V", "I bVII IV", "i iv V", "i bVII bVI V")


def shape_choices() -> list[Any]:
    """The catalogue as a grouped select: what is taught most stands first."""
    by_family: dict[str, list[tuple[str, str]]] = {family: [] for family, _label in GROUPS}
    for shape in theory.SHAPES.values():
        by_family[family_of(shape)].append((shape.id, shape.name))
    return [("", _("choose")), *((label, by_family[family]) for family, label in GROUPS)]


def key_names() -> list[str]:
    """Every key, for the list that a browser offers while one types."""
    return [str(key.tonic) if key.mode == "major" else str(key) for key in theory.KEYS]


def _text(label: Any, length: int, **kwargs: Any) -> forms.CharField:
    attrs = {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false", **kwargs.pop("attrs", {})}
    kwargs.setdefault("required", False)
    return forms.CharField(label=label, max_length=length, widget=forms.TextInput(attrs=attrs), **kwargs)


def _fret(label: Any, **kwargs: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, required=False, min_value=0, max_value=24,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}), **kwargs,
    )


def _shape(label: Any) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, choices=shape_choices, error_messages={"required": _("Choose a shape.")}
    )


class RootField(forms.CharField):
    """A root's name. It must be given, but for shapes with a root of their own: the form knows which those are."""

    def validate(self, value: Any) -> None:
        """Left to the form, which knows the shape."""


def _root() -> forms.CharField:
    attrs = {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false", "class": "short", "list": "roots"}
    return RootField(
        label=_("Root"), max_length=12, widget=forms.TextInput(attrs=attrs),
        help_text=_("Such as Bb or F#. Open chords and small forms have their own."),
    )


class GoalForm(forms.Form):
    shape = _shape(_("Shape"))
    root = _root()
    position = _fret(_("Position"), help_text=_("The index finger’s fret. Empty for the lowest."))
    shape2 = _shape(_("To shape"))
    root2 = _root()
    position2 = _fret(_("Position"), help_text=_("Empty for the lowest."))
    numerals = _text(
        _("Progression"), 200, attrs={"list": "progressions"}, required=True,
        error_messages={"required": _("Write the progression: numerals such as I vi IV V, or chords.")},
        help_text=_("Numerals in the key such as I vi IV V or I bVII IV, or chords such as G Em C D."),
    )
    string = forms.TypedChoiceField(
        label=_("String"), coerce=int, empty_value=None, widget=forms.RadioSelect,
        error_messages={"required": _("Choose a string.")},
    )
    notes = forms.ChoiceField(
        label=_("Notes asked"), required=False, widget=forms.RadioSelect,
        choices=[(TWELVE, _("all twelve")), (NATURALS, _("the seven naturals")), (NAMED, _("these:"))],
    )
    note_names = _text(_("Notes by name"), 120, help_text=_("For “these” only, such as C F Bb."))
    title = forms.CharField(
        label=_("Piece or exercise"), max_length=120,
        error_messages={"required": _("Give the piece or exercise a name.")},
    )
    section = forms.CharField(
        label=_("Section"), required=False, max_length=80, help_text=_("Such as bars 9 to 16, in your own words.")
    )
    from_memory = forms.BooleanField(label=_("From memory"), required=False)
    key = _text(
        _("Key"), 20, attrs={"class": "short", "list": "keys"}, help_text=_("Such as G, Bb or F# minor.")
    )
    own_chords_only = forms.BooleanField(
        label=_("The key’s own chords only"), required=False,
        help_text=_("A chord outside the key is then refused, not cautioned."),
    )
    capo = forms.IntegerField(
        label=_("Capo at fret"), required=False, min_value=0, max_value=15,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        help_text=_("Frets are then counted from it, and chords named as fingered."),
    )
    families = forms.MultipleChoiceField(
        label=_("Shapes allowed"), required=False, widget=forms.CheckboxSelectMultiple,
        choices=[(family, FAMILY_WORDS[family]) for family in FAMILIES], help_text=_("None chosen means all."),
    )
    low = _fret(_("From fret"))
    high = _fret(_("To fret"))
    metre = forms.ChoiceField(
        label=_("Metre"), required=False, choices=[(metre, metre) for metre in METRES],
        help_text=_("6/8 has two beats and 12/8 four, each of three parts."),
    )
    beats = forms.IntegerField(
        label=_("Beats per chord"), required=False, min_value=1, max_value=32,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    measure = forms.ChoiceField(label=_("Measured by"), widget=forms.RadioSelect)
    target = forms.FloatField(
        label=_("Target"), widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"})
    )
    start_value = forms.FloatField(
        label=_("Start value"), required=False,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
        help_text=_("What it is today, if you know."),
    )
    due = forms.DateField(
        label=_("Due"), widget=DayInput,
        error_messages={"invalid": _("Write the day like 2026-11-19.")},
    )
    words = forms.CharField(
        label=_("Your words to the student"), required=False, max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(
        self,
        data: Any = None,
        *,
        kind: str,
        instrument: theory.Instrument,
        hand: theory.Hand,
        context: theory.Context,
        today: dt.date,
        initial: Mapping[str, Any] | None = None,
        hand_pause: bool = False,
    ) -> None:
        """hand_pause: barres rest (practice.handday.holds_barres), so that what lays a finger flat needs the teacher's
        explicit reason."""
        super().__init__(data, initial=dict(initial or {}))
        self.kind, self.instrument, self.hand, self.context, self.today = kind, instrument, hand, context, today
        self.goal: theory.Goal | None = None
        self.findings: list[theory.Finding] = []
        for name in set(self.fields) - set(FIELDS[kind]) - set(SHARED):
            del self.fields[name]
        if hand_pause:
            self.fields["hand_reason"] = forms.CharField(
                label=Goal._meta.get_field("hand_reason").verbose_name.capitalize(), required=False, max_length=300,
                help_text=_("Needed while barres rest for the hand. The family may ask to see this."),
                widget=forms.Textarea(attrs={"rows": 2}),
            )
        codes = MEASURES_OF_KIND[kind]
        self.fields["measure"].choices = [(code, MeasureCode(code).label) for code in codes]
        if len(codes) == 1:
            self.fields["measure"].widget = forms.HiddenInput()
        if kind == "roots":
            count = instrument.strings
            self.fields["string"].choices = [(n, theory.STRING[n]) for n in range(count, 0, -1)]

    @property
    def terms(self) -> list[Any]:
        """The bound fields of the kind's own terms, in order."""
        return [self[name] for name in FIELDS[self.kind] if name in self.fields]

    # -- what makes sense -----------------------------------------------------------------------------------------

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        broken = [name for name in FIELDS[self.kind] if name in self.errors]
        if not broken:
            self._check_terms(data)
        measure = MEASURES.get(data.get("measure") or "")
        if measure is not None:
            for name in ("target", "start_value"):
                self._check_value(name, data, measure)
        self._check_due(data.get("due"))
        if self.needs_reason and not (data.get("hand_reason") or "").strip():
            self.add_error(
                "hand_reason",
                _("Barres rest just now, and this goal lays a finger flat over three strings or more. Say why it is set"
                  " all the same, or choose another goal."),
            )
        return data

    @property
    def needs_reason(self) -> bool:
        """Whether the goal rests just now: of a bound form that was looked at."""
        if "hand_reason" not in self.fields or self.goal is None:
            return False
        return lays_flat(self.goal, self.instrument, self.hand)

    def _check_terms(self, data: dict[str, Any]) -> None:
        self.goal = goal_of(self.kind, data, self.instrument)
        if self.goal is None:
            self._say_what_is_missing(data)
            return
        self.findings = theory.validate(self.goal, self.instrument, self.hand, self.context)
        for finding in self.findings:
            if finding.is_error:
                name = field_of(finding)
                self.add_error(name if name in self.fields else None, finding_text(finding))

    def _say_what_is_missing(self, data: dict[str, Any]) -> None:
        """Beside the field that no rule of its own calls empty."""
        if self.kind in ("chord", "change"):
            for suffix in ("", "2") if self.kind == "change" else ("",):
                if not data.get(f"root{suffix}") and not own_root(data[f"shape{suffix}"], self.instrument):
                    self.add_error(f"root{suffix}", _("This shape can stand anywhere: name a root, such as B or F#."))
        elif self.kind == "progression":
            self.add_error("numerals", _("Write the progression: numerals such as I vi IV V, or chords."))
        elif self.kind == "roots":
            self.add_error("note_names", _("Name the notes, or choose all twelve or the naturals."))

    def _check_value(self, name: str, data: dict[str, Any], measure: Measure) -> None:
        value = data.get(name)
        if value is None:
            return
        if measure.whole and not float(value).is_integer():
            self.add_error(name, _("Write a whole number."))
            return
        highest = measure.highest
        if measure.code == "clean" and self.goal is not None and first_voicing(self.goal, self.instrument):
            highest = most_of(self.goal, measure, self.instrument)
            if value > highest:
                self.add_error(name, _("This voicing sounds %(count)d strings.") % {"count": highest})
                return
        if not measure.lowest <= value <= highest:
            self.add_error(
                name,
                _("Between %(low)d and %(high)d: %(measure)s.")
                % {"low": measure.lowest, "high": highest, "measure": MeasureCode(measure.code).label},
            )
        elif name == "target" and value == 0 and not measure.fewer_is_better:
            self.add_error(name, _("A target of 0 is met before anybody plays."))

    def _check_due(self, due: dt.date | None) -> None:
        if due is None:
            return
        if due < self.today:
            self.add_error("due", _("That day is over. Choose today or later."))
        elif due > self.today + LATEST_DUE:
            self.add_error("due", _("That is more than two years away. Check the year."))

    # -- cautions ---------------------------------------------------------------------------------------------------

    @property
    def cautions(self) -> list[theory.Finding]:
        return [finding for finding in self.findings if not finding.is_error]

    def unseen_cautions(self, shown: Collection[str]) -> list[theory.Finding]:
        """The cautions that were not on the page when the form was sent; shown: their signatures."""
        return [finding for finding in self.cautions if signature(finding) not in shown]

    @property
    def acknowledged(self) -> list[str]:
        """Codes of the cautions, for the row."""
        return sorted({finding.code for finding in self.cautions})


def prefilled(
    kind: str, typed: Mapping[str, Any], goal: theory.Goal | None, instrument: theory.Instrument, due: dt.date
) -> dict[str, Any]:
    """The fields of a new goal: what is typed, and what is offered where nothing is.

    typed: fields by name, lists for several values. The target follows the voicing until the teacher changes it: it
    is offered anew while it equals the one offered before (field `offered`).
    """
    fields = {name: value for name, value in typed.items() if value not in ("", [], None)}
    codes = MEASURES_OF_KIND[kind]
    if fields.get("measure") not in codes:
        fields["measure"] = offered_measure(kind).code
    defaults = {"metre": METRES[0], "beats": 4, "notes": TWELVE, "due": due.isoformat()}
    for name, value in defaults.items():
        if name in FIELDS[kind] or name in SHARED:
            fields.setdefault(name, value)
    if "target" not in fields or fields["target"] == fields.get("offered"):
        measure = MEASURES[fields["measure"]]
        known = measure.code != "clean" or (goal is not None and first_voicing(goal, instrument) is not None)
        fields["target"] = f"{offered_target(goal, measure, instrument):g}" if known else ""
        fields["offered"] = fields["target"]
    return fields


def typed_fields(query: Any, names: Iterable[str]) -> dict[str, Any]:
    """The fields of a QueryDict by name; several values stay a list."""
    return {
        name: query.getlist(name) if name == "families" else query.get(name, "")
        for name in names
        if name in query
    }


def new_kind(text: str | None) -> str:
    """The kind that an address asks for; a chord for anything unknown."""
    return text if text in Goal.Kind.values else Goal.Kind.CHORD.value
