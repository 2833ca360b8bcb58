"""The sentences of practice.report."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

TEMPLATES: dict[str, Any] = {
    "report-reached": ngettext_lazy(
        "%(name)s reached %(count)s goal this term and logged %(spent)s.",
        "%(name)s reached %(count)s goals this term and logged %(spent)s.",
        "count",
    ),
    "report-days": _("%(name)s logged %(spent)s this term."),
    "report-spent": ngettext_lazy(
        "%(minutes)s minutes of practice on %(days)s day",
        "%(minutes)s minutes of practice on %(days)s days",
        "days",
    ),
    "report-nothing-logged": ngettext_lazy(
        "%(name)s reached %(count)s goal this term; no practice at home was logged.",
        "%(name)s reached %(count)s goals this term; no practice at home was logged.",
        "count",
    ),
    "report-nothing": _("No practice at home was logged for %(name)s this term."),
    "report-of-days": ngettext_lazy("of %(days)s day", "of %(days)s days", "days"),
    "report-of-days-rest": ngettext_lazy(
        "of %(days)s day, days of rest left out", "of %(days)s days, days of rest left out", "days"
    ),
    "report-nothing-asked": _("No practice was asked of %(name)s this term."),
    "report-planned": _("of %(minutes)s planned"),
    "report-planned-return": _("of %(minutes)s planned before the return; %(step)s"),
    "report-in-all": _("in all"),
    "report-goals": ngettext_lazy("goal reached", "goals reached", "count"),
    "report-goals-beside": _("secure at the term's end"),
}
