"""What is wrong with a body that a phone sent (practice.wire), in words."""

from typing import Any

from django.utils.translation import gettext_lazy as _

from practice.said import Said

TEMPLATES: dict[str, Any] = {
    "wire-json": _("That could not be read. Nothing was stored."),
    "wire-long": _("That is over %(most)s KB. Nothing was stored."),
    "wire-object": _("Named values belong here."),
    "wire-list": _("A list belongs here."),
    "wire-many": _("At most %(most)s belong here."),
    "wire-unknown": _("“%(name)s” is not known here."),
    "wire-missing": _("This is missing."),
    "wire-whole": _("Give a whole number from %(lowest)s to %(highest)s."),
    "wire-number": _("Give a number from %(lowest)s to %(highest)s."),
    "wire-choice": _("Choose one of the list."),
    "wire-code": _("That is not an id."),
    "wire-other-code": _("That is another entry's id."),
    "wire-instant": _("Give an instant such as 2026-03-27T17:00:00Z."),
    "wire-day": _("Give a day such as 2026-03-27."),
    "wire-time": _("Give a time such as 17:00."),
    "wire-when": _("Which day was it?"),
    "wire-how-long": _("How many minutes was it?"),
    "wire-sum": _("The goals' minutes add up to more than this."),
    "wire-goal": _("That goal is not yours any more."),
    "wire-twice": _("This goal is given twice."),
    "wire-no-strings": _("Strings are told of chords only."),
    "wire-counted": _("By the strings you marked it is %(counted)s. Change one of the two."),
    "wire-discomfort": _("Give it a number from 0 to 10 as well."),
    "wire-where": _("Say where, so that your teacher knows what to look at."),
    "wire-words": _("Choose one of the words."),
    "wire-skin": _("That word is for fingertip skin. Choose another word, or the fingertip."),
    "wire-rested": _("That is more than at its worst. Correct one of the two."),
    "wire-yes": _("Answer yes or no."),
    "wire-tip-place": _("You marked a place away from the fingers. Change one of the two."),
    "wire-tip-settles": _("You said that it takes longer to settle. Change one of the two."),
    "wire-text": _("There are characters in it that cannot be kept."),
    "wire-note-long": _("At most %(most)s characters."),
    "wire-day-to-come": _("That day is still to come."),
    "wire-before-joined": _(
        "A hand note cannot lie before the first day with the studio. Correct the day, or log it without the hand."
    ),
    "wire-note-before-joined": _("A hand note cannot lie before the first day with the studio. Correct the day."),
    "wire-future": _("That ends in the future. Check the day, the start and the minutes."),
    "wire-too-long": _("That is over 8 hours. Log it as several sessions."),
    "wire-too-old": _("That is over a year ago. Ask your teacher to keep it in the lesson notes."),
    "wire-overlap": _("A session at that time is already logged. Correct the start or the minutes."),
}


def in_words(errors: dict[str, list[Said]]) -> dict[str, list[str]]:
    """The errors of a WireError, each as a sentence."""
    return {
        path: [TEMPLATES[one.code] % {name: _plain(value) for name, value in one.values.items()} for one in found]
        for path, found in errors.items()
    }


def _plain(value: Any) -> Any:
    return int(value) if isinstance(value, float) and value.is_integer() else value
