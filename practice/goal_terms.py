"""A goal as the fields of the set-goal form, and back: the two ways are inverses for every goal the form can make.

The same fields travel in addresses (`goal_query`), so that a suggestion, a way out of a finding and "put it in a
change" are plain links that fill the form.
"""

import re
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from studio import theory

# Which fields each kind of goal uses, besides the ones every goal has.
FIELDS: dict[str, tuple[str, ...]] = {
    "chord": ("shape", "root", "position", "key", "own_chords_only", "capo"),
    "change": (
        "shape", "root", "position", "shape2", "root2", "position2", "key", "own_chords_only", "capo",
    ),
    "progression": (
        "numerals", "key", "own_chords_only", "capo", "families", "low", "high", "metre", "beats",
    ),
    "roots": ("string", "notes", "note_names"),
    "piece": ("title", "section", "from_memory"),
}  # fmt: skip

METRES = ("4/4", "3/4", "2/4", "5/4", "6/8", "12/8")
NATURALS, TWELVE, NAMED = "naturals", "twelve", "named"

# Groups of shapes that a progression may be kept to: open chords, small forms, and each movable family.
FAMILIES = ("open", "small", "E", "A", "C", "G", "D")


def family_of(shape: theory.Shape) -> str:
    """The group of FAMILIES that a shape belongs to."""
    return shape.family if shape.kind == "movable" else shape.kind


_BETWEEN = re.compile(r"[\s,;|–—→]+")
LONGEST = 40  # characters of one numeral or chord symbol


def split_progression(text: str) -> tuple[str, ...]:
    """The numerals or chord symbols of a progression as people write it: "I vi IV V", "I-bVII-IV", "| G | Em |".

    A hyphen parts two chords unless the whole is a chord symbol (B-, Am7-5).
    """
    found: list[str] = []
    for word in _BETWEEN.split(text):
        parts = [part for part in word.split("-") if part]
        if parts:
            found += [word] if len(parts) == 1 or _is_symbol(word) else parts
    return tuple(part[:LONGEST] for part in found)


def _is_symbol(text: str) -> bool:
    try:
        theory.read_symbol(text)
    except theory.TheoryError:
        return False
    return True


def qualities_of(numerals: Sequence[str], key: str | None) -> frozenset[str]:
    """Ids of the chord qualities that a progression needs; what cannot be read is passed over."""
    try:
        home = theory.Key.parse(key) if key else None
    except theory.TheoryError:
        home = None
    found = set()
    for numeral in numerals:
        for read in ([home.numeral] if home else []) + [theory.read_symbol]:
            try:
                found.add(read(numeral).quality)
                break
            except theory.TheoryError:
                continue
    return frozenset(found)


def shapes_in(families: Sequence[str], qualities: frozenset[str]) -> tuple[str, ...]:
    """Ids of the shapes of these groups that give one of the qualities; () when no group or every one is chosen."""
    if not families or set(families) >= set(FAMILIES):
        return ()
    return tuple(
        shape.id for shape in theory.SHAPES.values() if family_of(shape) in families and shape.quality in qualities
    )


def plain_note(text: str) -> str:
    """A note's name as the trade writes it ("bb" is "Bb"), or the text itself where it names none."""
    try:
        return str(theory.Note(text).without_octave())
    except theory.TheoryError:
        return text


def plain_key(text: str) -> str:
    """A key's short name ("G", "A minor"), or the text itself where it names none."""
    try:
        key = theory.Key.parse(text)
    except theory.TheoryError:
        return text
    return str(key.tonic) if key.mode == "major" else str(key)


def own_root(shape: str, neck: theory.Instrument) -> str:
    """The root that an open chord or small form has by itself, "" for a movable shape and where it has none."""
    try:
        return str(theory.place(shape, None, neck).root)
    except theory.TheoryError:
        return ""


# -- fields -> goal -----------------------------------------------------------------------------------------------


def goal_of(kind: str, data: Mapping[str, Any], instrument: theory.Instrument) -> theory.Goal | None:
    """The goal that cleaned fields describe; None while a chord has no shape or no root yet, or a list is empty.

    data: cleaned values by name (texts, whole numbers or None, lists). What is musically wrong stays in the goal,
    for `theory.validate` to name.
    """
    key = plain_key(data["key"]) if data.get("key") else None
    capo = data.get("capo") or 0
    shared: dict[str, Any] = {"key": key, "own_chords_only": bool(data.get("own_chords_only") and key), "capo": capo}
    if kind in ("chord", "change"):
        neck = _with_capo(instrument, capo)
        chords = [_chord(data, suffix, neck) for suffix in (("",) if kind == "chord" else ("", "2"))]
        if any(chord is None for chord in chords):
            return None
        return theory.Goal(kind=kind, chords=tuple(chord for chord in chords if chord), **shared)
    if kind == "progression":
        numerals = split_progression(data.get("numerals") or "")
        if not numerals:
            return None
        low, high = data.get("low"), data.get("high")
        window = None
        if low is not None or high is not None:
            window = (low or 0, high if high is not None else _with_capo(instrument, capo).last_fret)
        return theory.Goal(
            kind=kind,
            numerals=numerals,
            shapes=shapes_in(data.get("families") or (), qualities_of(numerals, key)),
            window=window,
            metre=data.get("metre") or "4/4",
            beats_per_chord=data.get("beats") or 4,
            **shared,
        )
    if kind == "roots":
        if data.get("string") is None:
            return None
        notes: tuple[str, ...] = ()
        if data.get("notes") == NATURALS:
            notes = (NATURALS,)
        elif data.get("notes") == NAMED:
            notes = tuple(plain_note(name) for name in _BETWEEN.split(data.get("note_names") or "") if name)
            if not notes:
                return None
        return theory.Goal(kind=kind, string=data["string"], notes=notes)
    if not (data.get("title") or "").strip():
        return None
    return theory.Goal(
        kind=kind,
        title=data["title"].strip(),
        section=(data.get("section") or "").strip(),
        from_memory=bool(data.get("from_memory")),
    )


def _with_capo(instrument: theory.Instrument, capo: int) -> theory.Instrument:
    try:
        return instrument.with_(capo=capo) if capo else instrument
    except theory.TheoryError:
        return instrument


def _chord(data: Mapping[str, Any], suffix: str, neck: theory.Instrument) -> theory.ChordTerm | None:
    shape = data.get(f"shape{suffix}") or ""
    root = (data.get(f"root{suffix}") or "").strip()
    root = plain_note(root) if root else own_root(shape, neck) if shape else ""
    if not shape or not root:
        return None
    return theory.ChordTerm(shape, root, data.get(f"position{suffix}"))


# -- goal -> fields -----------------------------------------------------------------------------------------------


def fields_of(goal: theory.Goal) -> dict[str, str | list[str]]:
    """The form's fields for a goal, as they are typed; empty ones are left out."""
    fields: dict[str, str | list[str]] = {"kind": goal.kind}
    for suffix, chord in zip(("", "2"), goal.chords, strict=False):
        fields |= {f"shape{suffix}": chord.shape, f"root{suffix}": chord.root}
        if chord.position is not None:
            fields[f"position{suffix}"] = str(chord.position)
    if goal.key:
        fields["key"] = goal.key
    if goal.own_chords_only:
        fields["own_chords_only"] = "on"
    if goal.capo:
        fields["capo"] = str(goal.capo)
    if goal.kind == "progression":
        fields |= {"numerals": " ".join(goal.numerals), "metre": goal.metre, "beats": str(goal.beats_per_chord)}
        held = {family_of(theory.SHAPES[shape]) for shape in goal.shapes if shape in theory.SHAPES}
        if held:
            fields["families"] = [family for family in FAMILIES if family in held]
        if goal.window is not None:
            fields |= {"low": str(goal.window[0]), "high": str(goal.window[1])}
    if goal.kind == "roots":
        fields["string"] = str(goal.string)
        fields["notes"] = TWELVE if not goal.notes else NATURALS if goal.notes == (NATURALS,) else NAMED
        if fields["notes"] == NAMED:
            fields["note_names"] = " ".join(goal.notes)
    if goal.kind == "piece":
        fields |= {"title": goal.title, "section": goal.section}
        if goal.from_memory:
            fields["from_memory"] = "on"
    return {name: value for name, value in fields.items() if value}


def goal_query(goal: theory.Goal, **more: Any) -> str:
    """The query string that fills the set-goal form with a goal; more: other fields, such as the due day."""
    return urlencode({**fields_of(goal), **more}, doseq=True)
