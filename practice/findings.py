"""The theory core's findings in the reader's language, and beside which field of the set-goal form each belongs."""

from django.utils.translation import gettext

from studio import theory

# A finding's term -> the form's field; a second chord's fields end in 2.
_FIELDS = {
    "chords": "shape",
    "shape": "shape",
    "root": "root",
    "position": "position",
    "key": "key",
    "capo": "capo",
    "numerals": "numerals",
    "shapes": "families",
    "window": "low",
    "metre": "metre",
    "beats_per_chord": "beats",
    "string": "string",
    "notes": "note_names",
    "title": "title",
}


def finding_text(finding: theory.Finding) -> str:
    """The finding as a sentence: its template translated, then filled."""
    return gettext(finding.template).format(**finding.values)


def way_out_text(way: theory.WayOut) -> str:
    """What a way out does, as the words of its link."""
    return gettext(way.template).format(**way.values)


def field_of(finding: theory.Finding) -> str | None:
    """The form's field that a finding is about, None when it is about the goal as a whole."""
    field = _FIELDS.get(finding.field)
    return f"{field}2" if field in ("shape", "root", "position") and finding.chord == 1 else field
