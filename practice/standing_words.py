"""The sentences of practice.standing."""

from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from practice.display import measured_text, number_text
from practice.said import Said


def standing_text(stands: Said) -> str:
    """The sentence at the head of a student's page. KeyError for a code that practice.standing does not use."""
    values: dict[str, Any] = dict(stands.values)
    if "day" in values:
        values["day"] = date_format(values["day"], "j F")
    if stands.code == "standing-slip":
        values |= {name: measured_text(values[name], values["measure"]) for name in ("was", "now")}
    elif "measure" in values:
        of = values["of"] or None
        values["value"] = measured_text(values["value"], values["measure"], of)
        values["target"] = number_text(values["target"]) if of else measured_text(values["target"], values["measure"])
    count = values.get("count", values.get("days", 0))
    text = {
        "standing-no-goal": _("Nothing is set for %(name)s yet. The first goal gives the week its work."),
        "standing-rest": _("Nothing is asked of %(name)s just now."),
        "standing-waits": _("What is set waits for now."),
        "standing-secure-wait": ngettext(
            "What may be played is secure.", "All %(count)s goals that may be played are secure.", count
        ),
        "standing-no-entry": _("Nothing has been logged so far."),
        "standing-quiet": ngettext(
            "Nothing logged for %(days)s day.", "Nothing logged for %(days)s days.", count
        ),
        "standing-late-one": _("%(title)s was due on %(day)s."),
        "standing-late": _("%(count)s goals are past due, the oldest %(title)s, since %(day)s."),
        "standing-stuck": _("%(title)s: no change in %(weeks)s weeks, though practised %(minutes)s minutes."),
        "standing-over-this-week": _("%(minutes)s minutes this week, %(plan)s planned: time to slow down."),
        "standing-over-last-week": _("%(minutes)s minutes last week, %(plan)s planned: time to slow down."),
        "standing-slip": _(
            "%(title)s has slipped back: it was at %(was)s on %(day)s, the last three tries no better than %(now)s."
        ),
        "standing-stage": _("%(title)s is on %(day)s: run-throughs now, nothing new."),
        "standing-one-day": _("All of the week’s practice falls on one day; over %(days)s days more would be kept."),
        "standing-review": _("%(title)s waits for its review since %(day)s."),
        "standing-all-secure": ngettext(
            "The goal is secure: time for the next step.", "All %(count)s goals are secure: time for the next step.",
            count,
        ),
        "standing-secure-next": _("%(title)s has been secure since %(day)s; %(next)s is nearest to follow."),
        "standing-secure": _("%(title)s has been secure since %(day)s."),
        "standing-met": _("%(title)s met its target in the last try: %(value)s. A lesson check makes it secure."),
        "standing-near": _("Nearest to its target is %(title)s with %(value)s, target %(target)s."),
        "standing-untried": ngettext(
            "The goal is set and not measured yet.", "%(count)s goals are set and not measured yet.", count
        ),
    }[stands.code]
    return text % values
