"""What practice.handreturn says, in words."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

RETURN: dict[str, Any] = {
    "return-felt": _(
        "Something was felt on this step. Stop for today; one step back is proposed, and the teacher decides."
    ),
    "return-felt-first": _(
        "Something was felt on the first step. Stop for today. There is no smaller step: ask whoever cleared the hand"
        " before it is begun again."
    ),
    "return-waits": _("Stop for today. The way back waits until a doctor or hand therapist has had a look."),
    "return-ready": ngettext_lazy(
        "%(days)s day on this step is logged and nothing was felt: the next step may begin.",
        "%(days)s days on this step are logged and nothing was felt: the next step may begin.",
        "days",
    ),
    "return-days": ngettext_lazy(
        "%(days)s of 3 days on this step is logged with nothing felt. Three are needed before the next.",
        "%(days)s of 3 days on this step are logged with nothing felt. Three are needed before the next.",
        "days",
    ),
    "return-long": ngettext_lazy(
        "This step has lasted a week or longer, with %(days)s of the 3 days that are needed. It is meant for 3 to 7"
        " days: talk it over with whoever cleared the hand.",
        "This step has lasted a week or longer, with %(days)s of the 3 days that are needed. It is meant for 3 to 7"
        " days: talk it over with whoever cleared the hand.",
        "days",
    ),
    "return-source": _(
        "Steps 1 and 2, 3 to 7 days each, onward only without symptoms and else back one: British Association for"
        " Performing Arts Medicine (BAPAM). Later steps are the teacher’s and the clinician’s own."
    ),
    "return-step": ngettext_lazy(
        "%(name)s is coming back to playing step by step. Step %(level)s: once %(play)s minutes a day, and no more.",
        "%(name)s is coming back to playing step by step. Step %(level)s: %(rounds)s times %(play)s minutes a day, and"
        " no more.",
        "rounds",
    ),
    "return-rest": _("Between them the hand rests for %(rest)s minutes."),
    "return-no-barre": _("No barre chords (one finger over several strings) yet."),
    "return-on-step": _("on step %(level)s of the return"),
    "return-most": _("at most %(minutes)s a day since %(day)s"),
    "return-begun": _("on the return begun on %(day)s"),
    "return-earlier-step": _("as the step allowed"),
    "week-days-return": ngettext_lazy(
        "%(name)s practised on %(days)s day, %(minutes)s minutes in all.",
        "%(name)s practised on %(days)s days, %(minutes)s minutes in all.",
        "days",
    ),
    "week-over-step": ngettext_lazy(
        "%(name)s played longer than the step of the return allows on %(days)s day; at most %(most)s minutes a day are"
        " agreed.",
        "%(name)s played longer than the step of the return allows on %(days)s days; at most %(most)s minutes a day are"
        " agreed.",
        "days",
    ),
    "help-return-stop": _(
        "Let %(name)s's hand rest today, and log what was felt. The teacher decides about the next step."
    ),
    "help-return": _(
        "Help %(name)s to keep to the step: set a timer, and put the guitar away between the turns. If anything is"
        " felt, stop for today and log it."
    ),
}
