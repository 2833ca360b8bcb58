"""The sentences of practice.suggest: why something is suggested, and why less or nothing is."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

TEMPLATES: dict[str, Any] = {
    "suggest-progression": _("%(title)s asks for %(symbol)s."),
    "suggest-key": _("%(symbol)s belongs to %(key)s (%(have)s of its %(of)s major and minor chords in hand)."),
    "suggest-key-last": _("%(symbol)s is the last of the %(of)s major and minor chords of %(key)s."),
    "suggest-key-seventh": _("%(symbol)s is the V7 of %(key)s."),
    "suggest-leads-to": _("It leads up to %(title)s, which is being worked on."),
    "suggest-open-chord": _("One of the usual first open chords."),
    "suggest-full-form": _("The full form of %(symbol)s, which is secure as a small form."),
    "suggest-open-seventh": _("An open seventh, which comes after the open chords."),
    "suggest-no-index": _("The open form without the index, which takes the nut's place later."),
    "suggest-small-form": _("A small form: three or four strings of the chord."),
    "suggest-first-barre": _("A first barre is usually taught at fret 5 to 7; this one lies at %(position)s."),
    "suggest-lower-fret": _(
        "The barre is secure down to fret %(lowest)s; fret %(position)s is the next step towards the nut."
    ),
    "suggest-e-major": _("E-shape major is usually the first of the barre shapes, and is not secure yet."),
    "suggest-beside": _("The %(shape)s is usually taught beside the first barre."),
    "suggest-a-major": _("A-shape major usually follows once a minor barre shape is secure."),
    "suggest-power": _("The power chord with its root on the %(string)s, beside the one that is secure."),
    "suggest-seventh": _("Sevenths usually follow the plain chord of the %(family)s-shape, which is secure."),
    "suggest-next-shape": _("One of the shapes that come after the E- and A-shapes and their sevenths."),
    "suggest-same-shape": _("The same shape as %(known)s, which is secure."),
    "suggest-grip-within": _(
        "No heavier for the hand than %(known)s, which is secure (grip demand %(demand)s against %(most)s)."
    ),
    "suggest-grip-beyond": _(
        "Heavier for the hand than %(known)s, the heaviest that is secure (grip demand %(demand)s against %(most)s)."
    ),
    "suggest-grip-alone": _("Its grip demand is %(demand)s."),
    "suggest-change": _("The easiest change to it is from %(known)s (grip demand %(demand)s)."),
    "suggest-review": _("It was secure, and its review fell due on %(day)s."),
    "suggest-roots": _("Roots along one string: work for eye and memory."),
    "suggest-rest": _("Nothing new while the hand rests: first what the hand note asks for."),
    "suggest-pause": _("Barre work is paused for the hand: finding roots presses nothing hard."),
    "suggest-enough-new": ngettext_lazy(
        "%(count)s new chord was set in the last seven days. That is enough.",
        "%(count)s new chords were set in the last seven days. That is enough.",
        "count",
    ),
    "suggest-light-only": _(
        "A hand note is open or recent: nothing with a barre, and nothing heavier than what is known without one."
    ),
    "suggest-return": _(
        "A stepwise return is open: nothing with a barre, and nothing heavier than what is known without one."
    ),
    "suggest-stay": _("Next: stay with what is set."),
    "suggest-wait": _("Next: nothing new for now."),
    "suggest-own-order": _("Step %(step)s of your own teaching order."),
    "suggest-songs-ready": ngettext_lazy(
        "It makes %(count)s song of the song book ready: %(titles)s.",
        "It makes %(count)s songs of the song book ready: %(titles)s.",
        "count",
    ),
    "suggest-songs-nearer": ngettext_lazy(
        "%(count)s song that lacks other chords too comes nearer.",
        "%(count)s songs that lack other chords too come nearer.",
        "count",
    ),
    "suggest-songs-order": _(
        "Of the chords whose turn it is, number %(place)s in the order that makes songs playable early."
    ),
    "songs-file-size": _("The file is larger than %(most)s kB. Send the songs in several files."),
    "songs-file-encoding": _("The file is %(name)s. Save it as CSV in UTF-8 and send it again."),
    "songs-file-bytes": _(
        "The file is not UTF-8: line %(line)s holds the byte %(byte)s. Save it as CSV in UTF-8 and send it again."
    ),
    "songs-file-no-text": _("This is not a text file. Save the table as CSV in UTF-8 and send it again."),
    "songs-file-empty": _("The file is empty."),
    "songs-file-header": _("The first line must name the columns (%(columns)s); it lacks %(missing)s."),
    "songs-file-column": _("The first line names a column “%(name)s”, which is not one of %(columns)s."),
    "songs-file-twice": _("The first line names the column “%(name)s” twice."),
    "songs-file-quotes": _("The quotation marks do not fit at line %(line)s: one is missing or stands alone."),
    "songs-file-cell": _("A cell at line %(line)s is far too long; a quotation mark may be missing."),
    "songs-file-lines": _("The file has more than %(most)s songs. Send them in several files."),
    "song-ready": _("ready"),
    "song-rests": _("every chord known; waits for now"),
    "song-no-chord": _("ready: it asks for no chord"),
    "song-lacks": _("lacks %(words)s"),
    "song-no-shape": _("no shape gives %(words)s on this guitar"),
    "song-no-shape-and": _("no shape gives %(words)s on this guitar; lacks %(others)s"),
    "song-unread": _("not known: %(words)s cannot be read"),
    "song-way": _("With the capo at %(capo)s it is %(symbols)s: every chord known."),
    "song-way-lacks": _("Easiest with the capo at %(capo)s, as %(symbols)s: lacks %(missing)s."),
    "song-way-lighter": _("Lighter for the hand with the capo at %(capo)s, as %(symbols)s: lacks %(missing)s."),
    "song-way-open": _("Without a capo it is %(symbols)s: every chord known."),
    "song-way-open-lacks": _("Easiest without a capo, as %(symbols)s: lacks %(missing)s."),
}

# Statements that let a bystander see that a hand complains: they are shown behind one tap only.
OF_HAND = frozenset({"suggest-rest", "suggest-pause", "suggest-light-only", "suggest-return"})
