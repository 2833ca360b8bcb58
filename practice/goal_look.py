"""What a goal would be, while the teacher is still typing: diagrams, fret, notes, the way to the root, findings.

Plain values from a checked form; the template draws them.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _

from practice.acts import signature
from practice.display import number_text
from practice.findings import finding_text, way_out_text
from practice.goal_form import GoalForm
from practice.goal_terms import fields_of
from practice.goalwork import voicings_of
from students.models import Student
from studio import theory

# How many other places of a chord are offered, and how many relations to the student's own shapes.
MOST_PLACES, MOST_RELATED = 6, 3
_SHARED = ("measure", "target", "offered", "start_value", "due", "words")


@dataclass(frozen=True)
class Tap:
    """One tap: its words and the address that fills the form."""

    words: str
    url: str
    voicing: theory.Voicing | None = None


@dataclass(frozen=True)
class Shown:
    """A finding on the page. signature goes back with the form, as proof that it was shown."""

    text: str
    is_error: bool
    signature: str
    ways: tuple[Tap, ...]


@dataclass(frozen=True)
class Look:
    """title: the goal's own; voicings; facts: short lines; walk: counting up to the root; strip: the string that
    carries the root, as SVG; related: how the shape follows from shapes that the student has; elsewhere: the same
    chord at other places; findings; rests: it lays a finger flat while barres rest. ready: whether there is a goal."""

    ready: bool
    title: str = ""
    voicings: tuple[theory.Voicing, ...] = ()
    facts: tuple[str, ...] = ()
    walk: str = ""
    strip: str = ""
    related: tuple[str, ...] = ()
    elsewhere: tuple[Tap, ...] = ()
    findings: tuple[Shown, ...] = ()
    rests: bool = False


def look_at(
    form: GoalForm, student: Student, fields: Mapping[str, Any], known: Iterable[theory.ChordTerm] = ()
) -> Look:
    """The look of a bound form's goal. fields: what is typed, by name; ways out keep all of it but the terms.
    known: chords that the student has or works on."""
    goal = form.goal
    if goal is None:
        return Look(ready=False)
    setter = reverse("practice:goal-set", args=[student.code])

    def url(terms: theory.Goal) -> str:
        kept = {name: fields[name] for name in _SHARED if fields.get(name) not in (None, "")}
        return f"{setter}?{urlencode({**fields_of(terms), **kept}, doseq=True)}"

    voicings = tuple(voicings_of(goal, form.instrument))
    walk = strip = ""
    facts: list[str] = []
    related: tuple[str, ...] = ()
    elsewhere: tuple[Tap, ...] = ()
    if goal.kind == "chord" and voicings:
        facts = _chord_facts(voicings[0])
        walk, strip = _root_way(voicings[0], goal.key)
        related = _related(voicings[0], known)
        elsewhere = _elsewhere(goal, voicings[0], form, url)
    elif goal.kind == "change" and len(voicings) == 2:
        facts = _change_facts(voicings[0], voicings[1], form.hand)
    elif goal.kind == "progression":
        voicings, facts = _progression(goal, form)
    elif goal.kind == "roots":
        strip, facts = _roots(goal, form.instrument)
    return Look(
        ready=True,
        title=goal.title_text(form.instrument),
        voicings=voicings,
        facts=tuple(facts),
        walk=walk,
        strip=strip,
        related=related,
        elsewhere=elsewhere,
        findings=tuple(
            Shown(
                finding_text(finding), finding.is_error, signature(finding),
                tuple(Tap(way_out_text(way), url(way.goal)) for way in finding.ways_out),
            )
            for finding in form.findings
        ),
        rests=form.needs_reason,
    )


def _notes(voicing: theory.Voicing) -> str:
    return " ".join("x" if note is None else str(note) for note in voicing.notes)


def _chord_facts(voicing: theory.Voicing) -> list[str]:
    facts = []
    if voicing.position:
        facts.append(_("Index at fret %(fret)d.") % {"fret": voicing.position})
    facts.append(
        _("Root %(root)s on the %(string)s.")
        % {"root": voicing.root, "string": theory.STRING[voicing.root_string]}
    )
    facts.append(_("Notes, lowest string first: %(notes)s.") % {"notes": _notes(voicing)})
    if voicing.instrument.capo:
        facts.append(
            _("With the capo at %(capo)d it sounds as %(symbol)s.")
            % {"capo": voicing.instrument.capo, "symbol": voicing.sounding_symbol}
        )
    return facts


def _root_way(voicing: theory.Voicing, key: str | None) -> tuple[str, str]:
    """The walk up the alphabet to the root, and the strip that shows the root's places on its string."""
    neck = voicing.instrument
    try:
        counted = theory.count_up(voicing.root_string, voicing.root, neck)
        # a voicing asked for an octave up is not where the count ends
        ends_here = voicing.position and counted.fret == voicing.frets[-voicing.root_string]
        walk = str(counted) if ends_here else ""
        strip = theory.fretboard_svg(voicing.root, voicing.root_string, neck, key=key, plays=neck.plays)
    except theory.TheoryError:
        return "", ""
    return walk, strip


def _elsewhere(goal: theory.Goal, here: theory.Voicing, form: GoalForm, url: Any) -> tuple[Tap, ...]:
    """The same chord at other places, lowest first: each other form at its lowest, the lightest for this hand. While
    barres rest none is offered that lays a finger flat."""
    forms: dict[str, theory.Place] = {}
    for place in theory.places(here.root, here.quality, here.instrument, form.hand):
        there = place.voicing
        if there.lays_flat and "hand_reason" in form.fields:
            continue
        octave_up = there.shape == here.shape and place.position > here.position
        if there.frets != here.frets and not place.past_joint and not octave_up:
            forms.setdefault(there.shape, place)
    lightest = sorted(forms.values(), key=lambda place: place.demand.total)[:MOST_PLACES]
    return tuple(_place_tap(goal, place, url) for place in sorted(lightest, key=lambda place: place.position))


def _place_tap(goal: theory.Goal, place: theory.Place, url: Any) -> Tap:
    there = place.voicing
    term = theory.ChordTerm(there.shape, str(there.root), there.position)
    words = _("%(title)s, grip demand %(demand)s")
    return Tap(
        words % {"title": there.title, "demand": number_text(place.demand.total)},
        url(goal.with_chord(0, term)),
        there,
    )


def _related(here: theory.Voicing, known: Iterable[theory.ChordTerm]) -> tuple[str, ...]:
    """How the shape follows from shapes that the student has, as teachers show it: the nearest, and whichever else
    are two fingers away at most."""
    found = []
    for shape in dict.fromkeys(term.shape for term in known if term.shape in theory.SHAPES):
        if shape == here.shape:
            continue
        way = theory.relation(shape, here.shape)
        same_form = way.strings_over is not None  # moved over or fingered anew
        fingers = 0 if same_form else len(way.moves) + len(way.lifted) + len(way.added)
        words = {"shape": way.a_name, "words": way.text}
        found.append((fingers, _("From %(shape)s: %(words)s") % words))
    found.sort(key=lambda pair: pair[0])
    return tuple(words for n, (fingers, words) in enumerate(found) if not n or fingers <= 2)[:MOST_RELATED]


def _change_facts(a: theory.Voicing, b: theory.Voicing, hand: theory.Hand) -> list[str]:
    facts = [*theory.relation(a, b).words]
    demand = theory.change_demand(a, b, hand)
    words = {"demand": number_text(demand.total)}
    facts.append(_("The change asks %(demand)s of the hand, in fingers to press.") % words)
    return facts


def _progression(goal: theory.Goal, form: GoalForm) -> tuple[tuple[theory.Voicing, ...], list[str]]:
    """The way along the neck that asks least of this hand, and what it is; where there is none, why not."""
    try:
        route = theory.arrange(
            goal.numerals, goal.key, goal.shapes or None, goal.on(form.instrument), hand=form.hand,
            window=goal.window, count=1,
        )[0]
    except theory.NoRoute as error:
        return (), [_(error.template).format(**error.values)]
    except theory.TheoryError:  # what cannot be read stands among the findings
        return (), []
    low, high = route.window
    return route.voicings, [
        f"{'; '.join(voicing.title for voicing in route.voicings)}.",
        _("The easiest way for this hand lies between frets %(low)d and %(high)d.") % {"low": low, "high": high},
    ]


def _roots(goal: theory.Goal, instrument: theory.Instrument) -> tuple[str, list[str]]:
    try:
        strip = theory.fretboard_svg(
            None, goal.string or 1, instrument, plays=instrument.plays,
            title=_("Notes on the %(string)s") % {"string": theory.STRING[goal.string or 1]},
        )
    except (theory.TheoryError, KeyError):
        return "", []
    asked = {(): _("All twelve notes are asked."), ("naturals",): _("The seven naturals are asked.")}
    return strip, [asked.get(goal.notes, _("Asked: %(notes)s.") % {"notes": ", ".join(goal.notes)})]
