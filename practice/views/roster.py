"""The roster: every student at a glance, narrowed, sorted, exported."""

import csv
import io

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe
from django_tables2 import RequestConfig

from practice.filters import RosterFilter
from practice.roster import on_roster
from practice.tables import RosterTable, spreadsheet_safe


def asked_table(request: HttpRequest, paginate: bool) -> tuple[RosterFilter, RosterTable]:
    """The table that an address asks for; page and export share it, so the export can show nothing more."""
    viewer = request.viewer
    today = viewer.studio.today(timezone.now())
    narrowed = RosterFilter(request.GET, queryset=on_roster(viewer, today), request=request, today=today)
    students = narrowed.qs
    table = RosterTable(students, today=today, owner=viewer.owns, looks=narrowed.looks)
    RequestConfig(request, paginate=paginate).configure(table)
    table.ready()
    return narrowed, table


@require_safe
def roster(request: HttpRequest) -> HttpResponse:
    narrowed, table = asked_table(request, paginate=True)
    context = {"filter": narrowed, "table": table, "nav": "roster"}
    return render(request, "practice/roster.html", context)


@require_safe
def roster_csv(request: HttpRequest) -> HttpResponse:
    _narrowed, table = asked_table(request, paginate=False)
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(table.heads())
    writer.writerows([spreadsheet_safe(cell) for cell in line] for line in table.lines())
    # with a byte order mark, by which spreadsheets know UTF-8
    response = HttpResponse(text.getvalue().encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="roster-{table.today:%Y-%m-%d}.csv"'
    response["Cache-Control"] = "no-store"
    return response
