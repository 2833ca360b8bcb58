"""A student's practice entries as the teacher reads them, and the form that logs one for the student."""

import uuid

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from practice.logwork import entry_form, log_entry
from practice.mailing import hear_after_commit
from practice.models import PracticeEntry
from students.models import Student

PAGE = 50


@require_http_methods(["GET", "POST"])
def log(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """The teacher logs what the student tells, or what the paper sheet says."""
    row = get_object_or_404(Student.objects.visible_to(request.viewer).select_related("studio"), code=student)
    now = timezone.now()
    form = entry_form(row, now, request.POST if request.method == "POST" else None, paper=True)
    if form.is_valid():
        by = PracticeEntry.By.PAPER if form.cleaned_data["paper"] else PracticeEntry.By.TEACHER
        if said := log_entry(row, form, by, request.viewer.name, now):
            messages.success(request, said)
            if form.cleaned_data.get("discomfort") is not None:
                hear_after_commit(row, now, request.build_absolute_uri)
            return redirect("practice:student", student=row.code)
    return render(
        request,
        "practice/log.html",
        {"student": row, "form": form, "parts": form.goal_parts(), "nav": "roster"},
    )


@require_GET
def entries(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    row = get_object_or_404(Student.objects.visible_to(request.viewer), code=student)
    page = Paginator(row.entries.for_log(), PAGE).get_page(request.GET.get("page"))
    return render(request, "practice/entries.html", {"student": row, "page": page, "nav": "roster"})
