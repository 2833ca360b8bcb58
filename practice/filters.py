"""What the roster may be narrowed by."""

import datetime as dt
from typing import Any

import django_filters
from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from practice.roster import Look, looks_of
from students.models import Student, Teacher, Weekday

EVERYBODY = "all"


class TickFilter(django_filters.Filter):
    """One box to tick; not ticked, it narrows nothing."""

    field_class = forms.BooleanField


class RosterFilter(django_filters.FilterSet):
    """Name, teacher (the owner's only), status (active and paused unless said otherwise), weekday, attention."""

    search = django_filters.CharFilter(
        field_name="name", lookup_expr="icontains", label=_("Name"), max_length=120,
        widget=forms.SearchInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    teacher = django_filters.ModelChoiceFilter(
        queryset=Teacher.objects.none(), to_field_name="code", label=_("Teacher"), empty_label=_("every teacher")
    )
    status = django_filters.ChoiceFilter(
        method="by_status", label=_("Status"), empty_label=_("active and paused"),
        choices=[*Student.Status.choices, (EVERYBODY, _("everybody"))],
    )  # fmt: skip
    weekday = django_filters.ChoiceFilter(
        field_name="lesson_weekday", choices=Weekday.choices, label=_("Lesson day"), empty_label=_("every day")
    )
    attention = TickFilter(method="as_it_is", label=_("Needs attention"), required=False)

    class Meta:
        model = Student
        fields: list[str] = []

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        # the looks at all who were asked after to find those in need, so that nobody computes them twice
        self.looks: dict[int, Look] | None = None
        viewer = self.request.viewer
        if viewer.owns:
            self.filters["teacher"].queryset = Teacher.objects.visible_to(viewer)
        else:
            del self.filters["teacher"]

    def by_status(self, students: QuerySet[Student], name: str, value: str) -> QuerySet[Student]:
        return students if value == EVERYBODY else students.filter(status=value)

    def as_it_is(self, students: QuerySet[Student], name: str, value: bool) -> QuerySet[Student]:
        """The need for attention is no column: it is computed from the rows that the other filters leave."""
        return students

    def filter_queryset(self, queryset: QuerySet[Student]) -> QuerySet[Student]:
        asked = self.form.cleaned_data
        queryset = super().filter_queryset(queryset)
        if not asked.get("status"):
            queryset = queryset.current()
        if asked.get("attention"):
            self.looks = looks_of(list(queryset), self.today)
            queryset = queryset.filter(pk__in=[key for key, look in self.looks.items() if look.reasons])
        return queryset
