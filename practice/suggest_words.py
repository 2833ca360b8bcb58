"""The sentences of practice.suggest: why something is suggested, and why less or nothing is."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

TEMPLATES: dict[str, Any] = {
    "suggest-progression": _("%(title)s asks for %(symbol)s."),
    "suggest-key": _("%(symbol)s belongs to %(key)s, of whose %(of)s chords %(have)s are in hand."),
    "suggest-key-last": _("Of the %(of)s chords of %(key)s only %(symbol)s is missing."),
    "suggest-open-chord": _("One of the usual first open chords."),
    "suggest-open-seventh": _("An open seventh, which comes after the open chords."),
    "suggest-no-index": _("The open form without the index, which takes the nut's place later."),
    "suggest-small-form": _("A small form: three or four strings of the chord."),
    "suggest-first-barre": _("A first barre is easiest at fret 5 to 7; this one lies at %(position)s."),
    "suggest-lower-fret": _(
        "The barre is secure down to fret %(lowest)s; fret %(position)s is the next step towards the nut."
    ),
    "suggest-next-shape": _("The next shape in the usual order."),
    "suggest-same-shape": _("The same shape as %(known)s, which is secure."),
    "suggest-grip": _("Its grip demand is %(demand)s; the heaviest chord that is secure asks %(most)s."),
    "suggest-grip-alone": _("Its grip demand is %(demand)s."),
    "suggest-change": _("The easiest way to it is from %(known)s: the change asks %(demand)s."),
    "suggest-review": _("It was secure, and its review fell due on %(day)s."),
    "suggest-roots": _("Roots along one string: work for eye and memory that presses nothing hard."),
    "suggest-rest": _("Nothing new while the hand rests: first what the hand note asks for."),
    "suggest-pause": _("Barre work is paused for the hand."),
    "suggest-enough-new": ngettext_lazy(
        "%(count)s new chord was set in the last seven days. That is enough.",
        "%(count)s new chords were set in the last seven days. That is enough.",
        "count",
    ),
    "suggest-light-only": _(
        "A hand note is open or recent: nothing with a barre, and nothing heavier than what is secure."
    ),
}
