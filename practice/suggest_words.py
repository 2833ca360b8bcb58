"""The sentences of practice.suggest: why a chord is suggested, and why none is."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

TEMPLATES: dict[str, Any] = {
    "suggest-key": _("%(chord)s is the %(numeral)s of %(key)s; %(have)s of its %(of)s chords are secure so far."),
    "suggest-key-complete": _("%(chord)s is the %(numeral)s of %(key)s: with it I, IV and V are all there."),
    "suggest-key-again": _("%(chord)s, the %(numeral)s of %(key)s, at a second place on the neck."),
    "suggest-open-chord": _("One of the first open chords."),
    "suggest-open-seventh": _("An open seventh: one finger away from a chord that is usually there."),
    "suggest-small-form": _("A small form: three or four strings for a small or new hand."),
    "suggest-first-barre": _("A first barre is easiest at fret 5 to 7; this one lies at %(position)s."),
    "suggest-lower-fret": _(
        "The barre is secure down to fret %(lowest)s; fret %(position)s is the next step towards the nut."
    ),
    "suggest-same-shape": _("The same shape as one that is secure, at fret %(position)s."),
    "suggest-beside": _("%(shape)s is taught beside the first barre."),
    "suggest-a-major": _("A-shape major follows once a minor barre shape is secure."),
    "suggest-seventh": _("Sevenths follow the plain %(family)s-shape, which is secure."),
    "suggest-last-shapes": _("The %(family)s-shape comes after the E- and A-shapes, which are secure."),
    "suggest-grip-more": _("It asks %(percent)s %% more of the hand than %(title)s, the heaviest secure one."),
    "suggest-grip-less": _("It asks %(percent)s %% less of the hand than %(title)s, the heaviest secure one."),
    "suggest-change": _("The easiest way to it is from %(title)s: the hand travels %(mm)s mm."),
    "suggest-rest": _("Nothing new while the hand rests: first what the hand note asks for."),
    "suggest-enough-new": ngettext_lazy(
        "%(count)s new chord was set this week. That is enough.",
        "%(count)s new chords were set this week. That is enough.",
        "count",
    ),
    "suggest-light-only": _("A hand note is open: nothing with a barre, and nothing heavier than what is secure."),
}
