"""The roster as a table: what can be sorted, how much a page shows, what the export writes."""

import datetime as dt
from typing import Any

import django_tables2 as tables
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from practice.roster import by_column, looks_of
from practice.song_csv import neutral
from practice.words import say
from students.models import INSTRUMENT_NAMES, Student

PER_PAGE = 50
MOST_PER_PAGE = 100


class RosterTable(tables.Table):
    """One row a student. Rows carry `reasons`, `asked` and `days_quiet` once `ready` has run.

    The page is drawn by templates of its own; `value_*` are what the export writes.
    """

    name = tables.Column(verbose_name=gettext_lazy("Student"))
    lesson = tables.Column(verbose_name=gettext_lazy("Lesson"), empty_values=())
    week = tables.Column(verbose_name=gettext_lazy("Minutes this week"), empty_values=())
    quiet = tables.Column(verbose_name=gettext_lazy("Days since last entry"), empty_values=())
    hand = tables.Column(verbose_name=gettext_lazy("Highest discomfort in 14 days"), empty_values=())
    attention = tables.Column(verbose_name=gettext_lazy("Needs attention"), empty_values=(), orderable=False)
    teacher = tables.Column(verbose_name=gettext_lazy("Teacher"))

    class Meta:
        template_name = "practice/roster_table.html"
        per_page = PER_PAGE
        order_by = "name"

    # columns whose figures are right-aligned
    NUMBERS = ("week", "quiet", "hand")

    def __init__(self, *args: Any, today: dt.date, owner: bool, looks: dict | None = None, **kwargs: Any) -> None:
        super().__init__(*args, exclude=() if owner else ("teacher",), **kwargs)
        self.today = today
        self.owner = owner
        self.found = looks

    @tables.Table.order_by.setter
    def order_by(self, value):
        """Column names only: what else an address asks for is not the library's to interpret."""
        aliases = value.split(",") if isinstance(value, str) else value or ()
        known = [alias for alias in aliases if alias.removeprefix("-") in self.base_columns]
        tables.Table.order_by.fset(self, known)

    def paginate(self, paginator_class=tables.paginators.Paginator, per_page=None, page=1, *args, **kwargs):
        """Whatever size the address asks for, a page holds 1 to MOST_PER_PAGE rows."""
        per_page = min(max(1, per_page or PER_PAGE), MOST_PER_PAGE)
        return super().paginate(paginator_class, per_page, page, *args, **kwargs)

    def ready(self) -> None:
        """Gives each row to be shown its reasons, its days and what the week asks. At most three queries beside that of
        the rows."""
        rows = [row.record for row in self.paginated_rows]
        found = self.found if self.found is not None else looks_of(rows, self.today)
        for student in rows:
            student.reasons, student.asked = found[student.pk].reasons, found[student.pk].asked
            student.days_quiet = None if student.last_entry is None else (self.today - student.last_entry).days
            student.minutes_this_week = round(student.seconds_this_week / 60)
            student.age_now = student.age(self.today)
            student.instrument_name = INSTRUMENT_NAMES.get(student.instrument, student.instrument)

    def _order(self, column: str, students: QuerySet[Student], descending: bool) -> tuple[QuerySet[Student], bool]:
        return by_column(students, column, descending), True

    def order_name(self, students, descending):
        return self._order("name", students, descending)

    def order_lesson(self, students, descending):
        return self._order("lesson", students, descending)

    def order_week(self, students, descending):
        return self._order("week", students, descending)

    def order_quiet(self, students, descending):
        return self._order("quiet", students, descending)

    def order_hand(self, students, descending):
        return self._order("hand", students, descending)

    def order_teacher(self, students, descending):
        return self._order("teacher", students, descending)

    # -- the export's own columns --------------------------------------------------------------------------------

    def heads(self) -> list[str]:
        """Column heads of the export: a figure a column, where the page puts two in one."""
        heads = [
            _("Student"), _("Age"), _("Instrument"), _("Status"), _("Lesson day"), _("Lesson time"),
            _("Minutes this week"), _("Planned minutes a week"), _("Days since last entry"),
            _("Highest discomfort in 14 days"), _("Needs attention"),
        ]  # fmt: skip
        return [*heads, _("Teacher")] if self.owner else heads

    def lines(self) -> list[list[str]]:
        """The same rows as the page's, all of them, as texts for the export. Call `ready` first."""
        return [self._line(row.record) for row in self.rows]

    def _line(self, student: Student) -> list[str]:
        cells = [
            student.name,
            student.age_now,
            student.instrument_name,
            student.get_status_display(),
            student.get_lesson_weekday_display(),
            student.lesson_time and student.lesson_time.strftime("%H:%M"),
            student.minutes_this_week,
            student.asked.minutes,
            student.days_quiet,
            student.worst_hand,
            " ".join(say(reason.said) for reason in student.reasons),
        ]
        if self.owner:
            cells.append(student.teacher.name)
        return ["" if cell is None else str(cell) for cell in cells]


# A cell that a spreadsheet would take for a formula, with an apostrophe before it: one rule for every file.
spreadsheet_safe = neutral
