"""The sentences of practice.stage and practice.studio_view, and the family's words before a performance."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

TEMPLATES: dict[str, Any] = {
    "stage-rule": _(
        "What is to be played is secure seven days before, and you are asked before a due day moves there. The last"
        " week is the seven days that end with the performance: run-throughs, nothing new, and no more minutes than on"
        " a usual day (the median of the four weeks before, never below the plan and never above the daily most). All"
        " of this is common practice, no source. Until the day, reviews of its goals fall due at equal gaps, chosen"
        " from how long they must last. Within four weeks of it, over 150 % of the week's plan, or more than the daily"
        " most on two days of seven, is a reason to say: slow down."
    ),
    "stage-in-days": ngettext_lazy(
        "%(title)s on %(day)s, in %(days)s day.", "%(title)s on %(day)s, in %(days)s days.", "days"
    ),
    "stage-tomorrow": _("%(title)s tomorrow, %(day)s."),
    "stage-today": _("%(title)s today, %(day)s."),
    "stage-past": _("%(title)s was on %(day)s."),
    "stage-last-week": _(
        "This is the last week: play the pieces through from beginning to end, and start nothing new. At most"
        " %(minutes)s minutes a day, no more than usual (common practice, no source)."
    ),
    "stage-the-day": _(
        "Play the pieces through once, slowly, and leave it at that: at most %(minutes)s minutes (common practice, no"
        " source)."
    ),
    "stage-pieces": _("To play through: %(pieces)s."),
    "stage-hand-first": _(
        "The hand comes first: what this page says of it holds, performance or not. Tell your teacher today, so that"
        " you can decide together."
    ),
    "stage-run-throughs": _(
        "The last week: run-throughs only, at most %(minutes)s minutes a day (common practice, no source)."
    ),
    "stage-slow-student": _(
        "You have played far more than planned. More minutes now do not make it safer: stop at %(minutes)s a day. A"
        " sudden or high load is what players themselves blame most when something hurts (Chan & Ackermann 2014)."
    ),
    "stage-slow-this-week": _(
        "Slow down before %(title)s on %(day)s: %(minutes)s minutes so far this week, %(plan)s planned."
    ),
    "stage-slow-last-week": _(
        "Slow down before %(title)s on %(day)s: %(minutes)s minutes last week, %(plan)s planned."
    ),
    "stage-slow-days": _(
        "Slow down before %(title)s on %(day)s: over the daily most of %(most)s minutes on %(days)s of the last seven"
        " days."
    ),
    "overview-over-most": _("Over the daily most of %(most)s minutes on %(days)s of the last seven days."),
    "suggest-stage": _("Nothing new in the last week before %(title)s on %(day)s (common practice, no source)."),
    "help-over-plan-stage": _(
        "%(title)s is on %(day)s. Help %(name)s to stop in time until then: at most %(minutes)s minutes a day. More"
        " minutes now do not make it safer."
    ),
    "help-stage": _(
        "%(title)s is on %(day)s. Be the audience: ask %(name)s to play the pieces through once, without stopping, and"
        " clap at the end. Nothing new this week."
    ),
}
