"""The term report: a page with the term, the teacher's words and what the PDF will hold; the PDF; the whole roster."""

import datetime as dt
import io
import logging
import re
import unicodedata
import uuid
import zipfile
from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from practice import report_pdf, summary
from practice.facts import StudentFacts
from practice.models import TermReport
from practice.queries import facts_of, student_facts
from practice.report import WEEK, Report, compose_term
from practice.report_charts import figures_of, lines_of
from practice.report_form import TermForm, WordsForm
from practice.views.family import asked_week, child_of, family_facts, minutes_figure
from students.models import Student
from students.viewer import Role, open_to

# Without dates a report covers these weeks up to today, unless one was begun lately.
USUAL_WEEKS = 13
LATELY = dt.timedelta(weeks=4)
# So many students' rows are held at once while the roster's reports are made.
BATCH = 20

_log = logging.getLogger(__name__)


def usual_term(request: HttpRequest, today: dt.date) -> tuple[dt.date, dt.date]:
    """The term that this viewer wrote for last, while it runs or is four weeks over; else the last 13 weeks."""
    last = (
        TermReport.objects.visible_to(request.viewer)
        .filter(start__lte=today, end__gte=today - LATELY)
        .order_by("-changed_at")
        .values_list("start", "end")
        .first()
    )
    if last is not None:
        return last
    return request.viewer.studio.week_of(today) - (USUAL_WEEKS - 1) * WEEK, today


def asked_term(request: HttpRequest, today: dt.date) -> tuple[TermForm, tuple[dt.date, dt.date]]:
    """(the form as asked for, the term it means: the usual one while the form has errors)."""
    usual = usual_term(request, today)
    if not {"start", "end"} & set(request.GET):
        return TermForm(initial={"start": usual[0], "end": usual[1]}, today=today), usual
    form = TermForm(request.GET, today=today)
    if form.is_valid():
        return form, (form.cleaned_data["start"], form.cleaned_data["end"])
    return form, usual


def _query(start: dt.date, end: dt.date) -> str:
    query = QueryDict(mutable=True)
    query.update({"start": start.isoformat(), "end": end.isoformat()})
    return query.urlencode()


def _since(start: dt.date, today: dt.date) -> dt.date:
    """First day of the rows that a report reads: the family's page of the first week looks two weeks back, and the
    hand's answer of today rests on half a year."""
    return min(max(start, dt.date.min + 2 * WEEK) - 2 * WEEK, today - summary.HALF_YEAR)


def _student(request: HttpRequest, code: uuid.UUID) -> Student:
    seen = Student.objects.visible_to(request.viewer).select_related("studio", "teacher")
    return get_object_or_404(seen, code=code)


# ---------------------------------------------------------------- one student


@require_http_methods(["GET", "HEAD", "POST"])
def page(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """GET shows a term (`?start=&end=`), POST keeps the words and goes on to the PDF, or back here."""
    row = _student(request, student)
    today = row.studio.today(timezone.now())
    if request.method == "POST":
        form = WordsForm(request.POST, today=today)
        if form.is_valid():
            return _keep(request, row, form.cleaned_data)
        if form.errors.get("start") or form.errors.get("end"):
            start, end = usual_term(request, today)
        else:
            start, end = form.cleaned_data["start"], form.cleaned_data["end"]
        return _page(request, row, today, TermForm(request.POST, today=today), start, end, form)
    term, (start, end) = asked_term(request, today)
    return _page(request, row, today, term, start, end)


def _page(
    request: HttpRequest,
    row: Student,
    today: dt.date,
    term: TermForm,
    start: dt.date,
    end: dt.date,
    form: WordsForm | None = None,
) -> HttpResponse:
    kept = row.term_reports.filter(start=start, end=end).first()
    words = kept.words if kept else ""
    facts = student_facts(row, today, _since(start, today))
    report = compose_term(facts, start, end, today, words)
    form = form or WordsForm(initial={"start": start, "end": end, "words": words}, today=today)
    context: dict[str, Any] = {
        "nav": "roster",
        "student": row,
        "term": term,
        "form": form,
        "report": report,
        "lines": lines_of(report, facts),
        "others": row.term_reports.exclude(start=start, end=end)[:6],
    }
    return render(request, "practice/report.html", context)


def _keep(request: HttpRequest, row: Student, given: dict[str, Any]) -> HttpResponse:
    start, end, words = given["start"], given["end"], given["words"].strip()
    wrote = {"words": words, "written_by": request.viewer.teacher}
    row.term_reports.update_or_create(start=start, end=end, defaults=wrote)
    query = _query(start, end)
    if "make" in request.POST:
        return redirect(f"{reverse('practice:report-pdf', args=[row.code])}?{query}")
    messages.success(request, _("Your words are kept with this term."))
    return redirect(f"{reverse('practice:report', args=[row.code])}?{query}")


@require_safe
def pdf(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """The report as a file. A term that cannot be read leads to the page, which says why."""
    row = _student(request, student)
    today = row.studio.today(timezone.now())
    term, (start, end) = asked_term(request, today)
    if term.is_bound and term.errors:
        return redirect(f"{reverse('practice:report', args=[row.code])}?{request.GET.urlencode()}")
    kept = row.term_reports.filter(start=start, end=end).first()
    facts = student_facts(row, today, _since(start, today))
    report = compose_term(facts, start, end, today, kept.words if kept else "")
    response = HttpResponse(_drawn(report, facts, row), content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="{file_name("term-report", row.name, end)}"'
    return response


def _drawn(report: Report, facts: StudentFacts, row: Student) -> bytes:
    return report_pdf.term_pdf(report, figures_of(report, facts), row.studio.name, row.teacher.name)


def file_name(what: str, person: str, day: dt.date) -> str:
    """A name that every system takes: "term-report-wren-halloran-2026-11-25.pdf"."""
    plain = unicodedata.normalize("NFKD", person).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "-", plain)[:60].strip("-") or "student"
    return f"{what}-{name}-{day.isoformat()}.pdf"


# ---------------------------------------------------------------- the family's week


@open_to(Role.GUARDIAN)
@require_safe
def week_pdf(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """The family's page of a week (`?week=`) as a file: the same value, drawn once more."""
    child = child_of(request, student)
    today = child.studio.today(timezone.now())
    shown = asked_week(request, child, today)
    facts = family_facts(child, today)
    week = summary.compose(facts, shown, today)
    made = report_pdf.week_pdf(week, [minutes_figure(facts, shown, today)], child.name, child.studio.name)
    response = HttpResponse(made, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="{file_name("week", child.name, shown)}"'
    return response


# ---------------------------------------------------------------- the whole roster


@require_safe
def reports(request: HttpRequest) -> HttpResponse:
    """Everybody on the roster with what is written for this term, and all reports at once."""
    today = request.viewer.studio.today(timezone.now())
    term, (start, end) = asked_term(request, today)
    students = list(Student.objects.visible_to(request.viewer).current().select_related("teacher"))
    written = dict(
        TermReport.objects.visible_to(request.viewer).filter(start=start, end=end).values_list("student_id", "words")
    )
    context = {
        "nav": "roster",
        "term": term,
        "start": start,
        "end": end,
        "query": _query(start, end),
        "rows": [(student, written.get(student.pk, "")) for student in students],
        "written": sum(bool(written.get(student.pk)) for student in students),
    }
    return render(request, "practice/reports.html", context)


@require_safe
def reports_zip(request: HttpRequest) -> HttpResponseBase:
    """One PDF for each student of the roster, sent while they are made."""
    today = request.viewer.studio.today(timezone.now())
    term, (start, end) = asked_term(request, today)
    if term.is_bound and term.errors:
        return redirect(f"{reverse('practice:reports')}?{request.GET.urlencode()}")
    students = Student.objects.visible_to(request.viewer).current().with_hand_consent(today)
    keys = list(students.values_list("pk", flat=True))
    if not keys:
        messages.error(request, _("There is nobody on the roster yet."))
        return redirect("practice:reports")
    response = StreamingHttpResponse(_zipped(students, keys, start, end, today), content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="term-reports-{end.isoformat()}.zip"'
    return response


class _Pipe(io.RawIOBase):
    """Where the archive is written, and taken from, piece by piece."""

    def __init__(self) -> None:
        super().__init__()
        self._held = bytearray()

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        self._held += data
        return len(data)

    def taken(self) -> bytes:
        held, self._held = bytes(self._held), bytearray()
        return held


def _zipped(students: Any, keys: list[int], start: dt.date, end: dt.date, today: dt.date) -> Iterator[bytes]:
    pipe = _Pipe()
    names: set[str] = set()
    language = translation.get_language()  # the request's, which may be over before the last report
    # a PDF is packed already
    with zipfile.ZipFile(pipe, "w", zipfile.ZIP_STORED) as archive:
        for at in range(0, len(keys), BATCH):
            some = list(students.filter(pk__in=keys[at : at + BATCH]).select_related("studio", "teacher"))
            facts = facts_of(some, today, _since(start, today))
            words = dict(
                TermReport.objects.filter(student__in=some, start=start, end=end).values_list("student_id", "words")
            )
            for row in some:
                report = compose_term(facts[row.pk], start, end, today, words.get(row.pk, ""))
                name = _free(file_name("term-report", row.name, end), names)
                try:
                    with translation.override(language):
                        archive.writestr(name, _drawn(report, facts[row.pk], row))
                except Exception:  # one report must not cost the others; the archive says which one is missing
                    _log.exception("A term report could not be made")
                    archive.writestr(
                        name.removesuffix(".pdf") + ".txt",
                        _("The report for %(name)s could not be made. Try it from the student's page.")
                        % {"name": row.name},
                    )
                yield pipe.taken()
    yield pipe.taken()


def _free(name: str, taken: set[str]) -> str:
    """The name, with a number when two students share one."""
    stem, number = name.removesuffix(".pdf"), 1
    while name in taken:
        number += 1
        name = f"{stem}-{number}.pdf"
    taken.add(name)
    return name
