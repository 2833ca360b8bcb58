"""The song book as a table: what can be sorted and narrowed, and for whom each song is ready."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import django_filters
import django_tables2 as tables
from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from practice.models import Song
from practice.song_form import tags_of
from practice.songbook import Known, Reading, SongStanding, by_readiness, read_song, stands
from practice.songs_core import song_level
from practice.tables import MOST_PER_PAGE, PER_PAGE
from students.models import Student, Teacher


@dataclass(frozen=True)
class Player:
    """A student as the song book sees them: what they have, on their own instrument."""

    student: Student
    known: Known
    instrument: Any
    hand: Any

    def stands(self, song: Song, way_out: bool = True) -> SongStanding:
        return stands(song.facts, self.known, self.instrument, self.hand, way_out)


@dataclass
class SongRow:
    """A song in the table. standing: of the student chosen; ready: who it is ready for, None until asked, and of how
    many students."""

    song: Song
    standing: SongStanding | None = None
    ready: Sequence[Student] | None = None
    of: int = 0

    @cached_property
    def reading(self) -> Reading:
        return read_song(self.song.chords, self.song.key, self.song.capo)

    @cached_property
    def demand(self) -> float:
        return song_level(self.reading.symbols)

    @property
    def tags(self) -> list[str]:
        return tags_of(self.song.tags)

    @property
    def unread_words(self) -> str:
        return ", ".join(dict.fromkeys(one.word for one in self.reading.unread))[:120]

    # -- what the columns sort by ---------------------------------------------------------------------------------

    @property
    def title(self) -> tuple[str, int]:
        return self.song.title.casefold(), self.song.pk

    @property
    def key(self) -> tuple[bool, str]:
        return not self.song.key, self.song.key

    @property
    def level(self) -> tuple[bool, int, str]:
        """Numbers as numbers, before words."""
        text = self.song.level
        number = int(text) if text.isascii() and text.isdigit() else 10**6
        return not text, number, text.casefold()

    @property
    def teacher(self) -> tuple[str, str]:
        return self.song.teacher.name, self.song.title.casefold()

    @property
    def readiness(self) -> tuple[int, int, str]:
        """Ready first, then by how many chords are missing; what cannot be known last."""
        if self.standing is None:
            return 9, 0, self.song.title.casefold()
        place = {"ready": 0, "rests": 1, "lacks": 2, "no-shape": 3, "unread": 4}[self.standing.code]
        return place, len(self.standing.lacks), self.song.title.casefold()


class SongTable(tables.Table):
    """One row a song. The page is drawn by templates of its own."""

    # what is looked for between two students stands first, and in sight on a phone
    title = tables.Column(verbose_name=_("Song"))
    chords = tables.Column(verbose_name=_("Chords, as fingered"), empty_values=(), orderable=False)
    readiness = tables.Column(verbose_name=_("Ready"))
    key = tables.Column(verbose_name=_("Key"))
    capo = tables.Column(verbose_name=_("Capo"), accessor="song__capo")
    level = tables.Column(verbose_name=_("Level"))
    demand = tables.Column(verbose_name=_("How hard"))
    tags = tables.Column(verbose_name=_("Tags"), orderable=False)
    teacher = tables.Column(verbose_name=_("Teacher"))

    NUMBERS = ("capo", "demand")

    class Meta:
        per_page = PER_PAGE
        order_by = "title"

    def __init__(self, *args: Any, teachers: bool, player: Player | None, **kwargs: Any) -> None:
        """teachers: whether the books of several are shown."""
        super().__init__(*args, exclude=() if teachers else ("teacher",), **kwargs)
        self.teachers = teachers
        self.player = player
        self.columns["readiness"].column.orderable = player is not None

    @tables.Table.order_by.setter
    def order_by(self, value):
        """Column names only: what else an address asks for is not the library's to interpret."""
        aliases = value.split(",") if isinstance(value, str) else value or ()
        known = [alias for alias in aliases if alias.removeprefix("-") in self.base_columns]
        tables.Table.order_by.fset(self, [alias for alias in known if self._sortable(alias)])

    def _sortable(self, alias: str) -> bool:
        name = alias.removeprefix("-")
        return self.base_columns[name].orderable is not False and name not in self.exclude

    def paginate(self, paginator_class=tables.paginators.Paginator, per_page=None, page=1, *args, **kwargs):
        """Whatever size the address asks for, a page holds 1 to MOST_PER_PAGE rows."""
        per_page = min(max(1, per_page or PER_PAGE), MOST_PER_PAGE)
        return super().paginate(paginator_class, per_page, page, *args, **kwargs)

    def ready(self, players: Iterable[Player] | None) -> None:
        """Fills the rows to be shown: the chosen student's way out, or everybody for whom a song is ready."""
        everybody = None if players is None else list(players)
        for row in self.paginated_rows:
            one = row.record
            if self.player is not None:
                one.standing = self.player.stands(one.song)
            elif everybody is not None:
                # a song is played by the students of the teacher whose book holds it
                own = [player for player in everybody if player.student.teacher_id == one.song.teacher_id]
                one.of = len(own)
                one.ready = [player.student for player in own if player.stands(one.song, way_out=False).ready]


class SongFilter(django_filters.FilterSet):
    """Text in title or chords, tag, level, the student to look for, and for the owner the teacher: their own book
    until another one, or every one, is asked for."""

    search = django_filters.CharFilter(
        method="by_text", label=_("Title or chord"), max_length=120,
        widget=forms.SearchInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    tag = django_filters.ChoiceFilter(method="by_tag", label=_("Tag"), empty_label=_("every tag"))
    level = django_filters.ChoiceFilter(field_name="level", label=_("Level"), empty_label=_("every level"))
    student = django_filters.ModelChoiceFilter(
        queryset=Student.objects.none(), to_field_name="code", method="as_it_is", label=_("Ready for"),
        empty_label=_("nobody chosen"),
    )  # fmt: skip
    teacher = django_filters.ModelChoiceFilter(
        queryset=Teacher.objects.none(), to_field_name="code", label=_("Teacher"), empty_label=_("every teacher")
    )

    class Meta:
        model = Song
        fields: list[str] = []

    def __init__(self, data: Any, *args: Any, request: Any, **kwargs: Any) -> None:
        viewer = request.viewer
        if viewer.owns and "teacher" not in data:
            data = data.copy()
            data["teacher"] = str(viewer.teacher.code)
        super().__init__(data, *args, request=request, **kwargs)
        in_use = list(self.queryset.order_by().values_list("tags", "level"))
        tags = {tag for text, _level in in_use for tag in tags_of(text)}
        levels = {level for _tags, level in in_use if level}
        self.filters["tag"].extra["choices"] = [(tag, tag) for tag in sorted(tags, key=str.casefold)]
        self.filters["level"].extra["choices"] = [(level, level) for level in sorted(levels, key=_by_number)]
        self.filters["student"].queryset = (
            Student.objects.visible_to(viewer).current().select_related("studio", "teacher").order_by("name", "pk")
        )
        if viewer.owns:
            self.filters["teacher"].queryset = Teacher.objects.visible_to(viewer)
        else:
            del self.filters["teacher"]

    def by_text(self, songs: QuerySet[Song], name: str, value: str) -> QuerySet[Song]:
        return songs.filter(title__icontains=value) | songs.filter(chords__icontains=value)

    def by_tag(self, songs: QuerySet[Song], name: str, value: str) -> QuerySet[Song]:
        """By whole tags: "pop" does not find "pop punk"."""
        return songs.filter(pk__in=[song.pk for song in songs if value in tags_of(song.tags)])

    def as_it_is(self, songs: QuerySet[Song], name: str, value: Student) -> QuerySet[Song]:
        """The student narrows nothing: whether a song is ready is computed."""
        return songs


def _by_number(level: str) -> tuple[int, str]:
    return (int(level) if level.isascii() and level.isdigit() else 10**6, level.casefold())


def rows_of(songs: Iterable[Song], player: Player | None) -> list[SongRow]:
    """The table's rows; for a student chosen with where they stand, which the table may sort by."""
    return [SongRow(song, player.stands(song, way_out=False) if player else None) for song in songs]


def ready_titles(student: Student, known: Known, instrument: Any, hand: Any) -> list[str]:
    """The songs that a student can play now, by title. One query."""
    player = Player(student, known, instrument, hand)
    standings = (player.stands(song, way_out=False) for song in Song.objects.played_by(student))
    return [one.song.title for one in by_readiness(standings)[0]]
