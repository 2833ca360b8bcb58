"""A teacher's whole roster at once, and for the owner everybody's, by teacher."""

import datetime as dt
from typing import Any

from django.db.models import OuterRef, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from practice import plateau
from practice.models import PracticeEntry
from practice.queries import facts_of
from practice.studio_view import FEWEST, Member, Overview
from practice.studio_view import overview as compose
from practice.words import say
from students.models import Student

# Entries and hand notes that the page reads; goals and their measurements always.
SPAN = dt.timedelta(weeks=26)


@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    viewer = request.viewer
    today = viewer.studio.today(timezone.now())
    entries = PracticeEntry.objects.filter(student=OuterRef("pk"), day__lte=today).order_by("-day")
    students = list(
        Student.objects.visible_to(viewer)
        .active()
        .select_related("studio", "teacher")
        .with_hand_consent(today)
        .annotate(last_entry=Subquery(entries.values("day")[:1]))
    )
    facts = facts_of(students, today, since=today - SPAN)
    members = [Member(str(one.code), one.teacher.name, facts[one.pk], one.last_entry) for one in students]
    found = compose(members, today)
    context: dict[str, Any] = {
        "nav": "overview",
        "today": today,
        "found": found,
        "lead": lead(found),
        "nobody": nobody(found),
        "few": FEWEST,
        "plateau_rule": say(plateau.RULE),
        "told": [one for one in found.shapes if not one.few],
        "untold": [one for one in found.shapes if one.few],
    }
    return render(request, "practice/overview.html", context)


def lead(found: Overview) -> str:
    """The roster in two sentences: "22 students. 3 goals are stuck; 2 students have not logged for 8 days or more."."""
    count = found.students
    if not count:
        return ""
    told = ngettext("%(count)s student.", "%(count)s students.", count) % {"count": count}
    parts = [
        ngettext("%(count)s goal is stuck", "%(count)s goals are stuck", found.count("stuck")),
        ngettext("%(count)s slipped back", "%(count)s slipped back", found.count("slipped")),
        ngettext("%(count)s student logs nothing", "%(count)s students log nothing", found.count("quiet")),
        ngettext("%(count)s practises too much", "%(count)s practise too much", found.count("over")),
        ngettext("%(count)s review waits", "%(count)s reviews wait", found.count("reviews")),
    ]
    counts = [found.count(name) for name in ("stuck", "slipped", "quiet", "over", "reviews")]
    said = [part % {"count": number} for part, number in zip(parts, counts, strict=True) if number]
    if not said:
        return f"{told} {_('Nothing asks for a look.')}"
    return f"{told} {'; '.join(said)}."


def nobody(found: Overview) -> list[str]:
    """What was looked for and not found."""
    words = {
        "stuck": _("stuck"),
        "slipped": _("slipped back"),
        "quiet": _("logs nothing"),
        "over": _("practises too much"),
        "reviews": _("a review waits"),
        "stages": _("a performance within four weeks"),
    }
    return [said for name, said in words.items() if not found.count(name)]
