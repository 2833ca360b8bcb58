"""What a teacher does to a goal with one tap, the same on the student's page and while recording a lesson.

`taps` says what can be done and what would come of it; `act` does it. Rows are written here and nowhere else; what
follows from a goal's terms is computed by practice.goalwork.
"""

import datetime as dt
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from practice.display import measured_text
from practice.facts import GoalFacts, StudentFacts
from practice.findings import finding_text
from practice.goal_voicings import lays_flat
from practice.goalwork import due_after, first_voicing, most_of, next_root, offered_target, raised, voicings_of
from practice.handcare import open_notes
from practice.handday import holds_barres
from practice.kept import without_hand_cautions
from practice.measures import MEASURES
from practice.models import Goal
from practice.progress import was_secure
from practice.store import still_agreed
from students.models import Student
from studio import theory

SEPARATOR = ";"
ACTIONS = ("keep", "raise", "next-root", "into-change", "set-aside", "take-back")


def signature(finding: theory.Finding) -> str:
    """A short text that is the same for the same finding with the same values: what a teacher has been shown."""
    digest = hashlib.blake2s(finding_text(finding).encode(), digest_size=4).hexdigest()
    return f"{finding.code}:{digest}"


@dataclass(frozen=True)
class Taps:
    """What one tap can do to a goal. keep_until: the new due day; raised: the new target, None at the ceiling;
    next_goal: the same shape at the next root, with the cautions to see first, by signature; changes: whether it can
    be put in a change."""

    goal: GoalFacts
    voicing: theory.Voicing | None
    keep_until: dt.date
    raised: float | None
    next_goal: theory.Goal | None = None
    next_voicing: theory.Voicing | None = None
    next_cautions: dict[str, str] = field(default_factory=dict)
    changes: bool = False
    # the next goal lays a finger flat and barres rest: it is set in the form alone, with the teacher's reason
    needs_reason: bool = False
    # the goal itself is set aside and has one: it is taken up again with the teacher's reason
    back_needs_reason: bool = False

    @property
    def keep_words(self) -> str:
        return _("keep, due %(day)s") % {"day": date_format(self.keep_until, "j M")}

    @property
    def raise_words(self) -> str:
        if self.raised is None:
            return _("at its most")
        return _("raise to %(target)s") % {"target": measured_text(self.raised, self.goal.measure.code, self._of)}

    @property
    def next_words(self) -> str:
        voicing = self.next_voicing
        if voicing is None:
            return ""
        words = {"symbol": voicing.symbol, "fret": voicing.position}
        if self.needs_reason:
            return _("next root with your reason: %(symbol)s at fret %(fret)s") % words
        return _("next root: %(symbol)s at fret %(fret)s") % words

    @property
    def _of(self) -> int | None:
        return self.voicing.strings_sounding if self.voicing is not None else None

    def choices(self) -> list[tuple[str, str]]:
        """The actions that change the goal at once, for a form: (action, words)."""
        found = [("", _("leave as it is")), ("keep", self.keep_words)]
        if self.raised is not None:
            found.append(("raise", self.raise_words))
        if self.next_goal is not None and not self.needs_reason:
            found.append(("next-root", self.next_words))
        return [*found, ("set-aside", _("set aside"))]


def goal_context(facts: StudentFacts, today: dt.date) -> theory.Context:
    """What the checks of a new goal know of the student: whether a barre is secure, a hand note open, what is set."""
    barres = [goal for goal in facts.goals if any(v.has_barre for v in voicings_of(goal.theory, facts.instrument))]
    return theory.Context(
        new_to_barres=not any(was_secure(goal, today) for goal in barres),
        open_hand_note=facts.hand_consent and bool(open_notes(facts.notes)),
        active_goals=tuple(goal.theory for goal in facts.active_goals),
    )


def taps(
    goal: GoalFacts, facts: StudentFacts, day: dt.date, context: theory.Context | None = None
) -> Taps:
    """What can be done on `day` to one of the student's goals. context: for the next root's findings."""
    active = [other.theory for other in facts.active_goals]
    voicing = first_voicing(goal.theory, facts.instrument)
    most = most_of(goal.theory, goal.measure, facts.instrument)
    following = next_root(goal.theory, facts.instrument, active)
    cautions: dict[str, str] = {}
    there = None
    if following is not None:
        there = first_voicing(following, facts.instrument)
        found = theory.validate(following, facts.instrument, facts.hand, context or theory.Context())
        if any(finding.is_error for finding in found):
            following = there = None
        else:
            cautions = {signature(finding): finding_text(finding) for finding in found}
    return Taps(
        goal=goal,
        voicing=voicing,
        keep_until=due_after(day, facts.next_lesson),
        raised=raised(goal.measure, goal.target, most),
        next_goal=following,
        next_voicing=there,
        next_cautions=cautions,
        changes=goal.kind == Goal.Kind.CHORD,
        needs_reason=there is not None and there.lays_flat and holds_barres(facts, day),
        back_needs_reason=goal.set_aside and holds_barres(facts, day)
        and lays_flat(goal.theory, facts.instrument, facts.hand),
    )


@dataclass(frozen=True)
class Done:
    """text: what happened, as a sentence; goal: the new goal where one was made; ok: False when nothing was done."""

    text: str
    goal: Goal | None = None
    ok: bool = True


def act(
    goal: Goal, action: str, tap: Taps, *, day: dt.date, now: dt.datetime, teacher: Any = None,
    seen: float | None = None, hand_reason: str = "",
) -> Done:
    """Does one action to a row. seen: the target that was shown; a target raised meanwhile is not raised twice.
    hand_reason: why a goal with a barre is taken up again although the hand says pause.

    `next-root` sets the new goal with its cautions as acknowledged: show `tap.next_cautions` first.
    Raises KeyError for an action that is none or that needs a form of its own.
    """
    if action == "take-back" and tap.back_needs_reason:
        if not hand_reason:
            return Done(_("Barres rest just now: this is taken up again with your reason alone."), ok=False)
        with transaction.atomic():
            reason, _codes = _still_of_hand(goal.student, now, hand_reason, ())
            if reason:
                goal.hand_reason = reason
                goal.save(update_fields=["hand_reason", "changed_at"])
    return _ACTS[action](goal, tap, day, now, teacher, seen)


def _keep(goal: Goal, tap: Taps, *_rest: Any) -> Done:
    goal.keep_until(tap.keep_until)
    words = {"goal": goal.title, "day": date_format(tap.keep_until, "j F")}
    return Done(_("%(goal)s stays, due on %(day)s.") % words)


def _raise(goal: Goal, tap: Taps, day: dt.date, now: dt.datetime, teacher: Any, seen: float | None) -> Done:
    if seen is not None and seen != goal.target:
        return Done(_("The target of %(goal)s was changed meanwhile; it stays.") % {"goal": goal.title}, ok=False)
    if tap.raised is None:
        return Done(_("%(goal)s is at its most: there is nothing to raise.") % {"goal": goal.title}, ok=False)
    if not goal.raise_target(tap.raised, tap.keep_until):
        return Done(_("The target of %(goal)s was changed meanwhile; it stays.") % {"goal": goal.title}, ok=False)
    words = {"goal": goal.title, "target": measured_text(tap.raised, goal.measure, tap._of)}
    return Done(_("%(goal)s: the target is now %(target)s.") % words)


def _next_root(goal: Goal, tap: Taps, day: dt.date, now: dt.datetime, teacher: Any, seen: float | None) -> Done:
    if tap.next_goal is None:
        return Done(_("There is no next root for %(goal)s on this neck.") % {"goal": goal.title}, ok=False)
    if tap.needs_reason:
        return Done(_("Barres rest just now: the next root is set in the form, with your reason."), ok=False)
    new = set_goal(
        goal.student, tap.next_goal, measure=goal.measure, day=day, now=now, teacher=teacher, due=tap.keep_until,
        target=goal.target if goal.measure != "clean" else None,
        acknowledged=sorted({mark.partition(":")[0] for mark in tap.next_cautions}),
    )
    return Done(_("Set: %(goal)s, due on %(day)s.") % {"goal": new.title, "day": date_format(new.due, "j F")}, new)


def _set_aside(goal: Goal, tap: Taps, day: dt.date, now: dt.datetime, *_rest: Any) -> Done:
    goal.set_aside(now)
    return Done(_("%(goal)s is set aside. What was practised stays.") % {"goal": goal.title})


def _take_back(goal: Goal, tap: Taps, *_rest: Any) -> Done:
    goal.take_back(tap.keep_until)
    words = {"goal": goal.title, "day": date_format(goal.due, "j F")}
    return Done(_("%(goal)s is taken up again, due on %(day)s.") % words)


_ACTS = {
    "keep": _keep,
    "raise": _raise,
    "next-root": _next_root,
    "set-aside": _set_aside,
    "take-back": _take_back,
}


def set_goal(
    student: Student,
    terms: theory.Goal,
    *,
    measure: str,
    day: dt.date,
    now: dt.datetime,
    due: dt.date,
    teacher: Any = None,
    target: float | None = None,
    start_value: float | None = None,
    words: str = "",
    acknowledged: Iterable[str] = (),
    hand_reason: str = "",
) -> Goal:
    """Stores a new goal of a student. target: None for the offered one. acknowledged: codes of cautions seen."""
    if target is None:
        target = offered_target(terms, MEASURES[measure], student.theory_instrument())
    with transaction.atomic():
        hand_reason, acknowledged = _still_of_hand(student, now, hand_reason, acknowledged)
        return Goal.objects.create(
            student=student,
            kind=terms.kind,
            terms=terms.to_terms(),
            measure=measure,
            target=target,
            start_value=start_value,
            due=due,
            words=words,
            acknowledged=acknowledged,
            hand_reason=hand_reason,
            created_by=teacher,
            created_at=now,
            day=day,
        )


def _still_of_hand(
    student: Student, now: dt.datetime, hand_reason: str, acknowledged: Iterable[str]
) -> tuple[str, list[str]]:
    """What a goal may keep of the hand, the reason and the cautions seen, inside the transaction that writes it."""
    codes = list(acknowledged)
    plain = without_hand_cautions(codes)
    if not hand_reason and plain == codes:
        return hand_reason, codes
    return (hand_reason, codes) if still_agreed(student, student.studio.today(now)) else ("", plain)
