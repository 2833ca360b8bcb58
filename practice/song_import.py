"""A file of songs against a teacher's book: what would be added, changed, left and refused, line by line, before
anything is stored; then all of it in one transaction, or nothing."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from practice.models import Song
from practice.song_csv import SongLine
from practice.song_form import FIELDS, MOST_SONGS, SongForm
from practice.songbook import read_song
from students.models import Teacher

SHORT = 60


@dataclass(frozen=True)
class Change:
    """One field: its label, what the book has, what the file has."""

    label: str
    old: str
    new: str


@dataclass(frozen=True)
class Planned:
    """What one line would do. code: "add", "change", "same" or "refuse"; values: the song's fields; reasons: why it is
    refused; unread: words of its chords that cannot be read, which refuses nothing."""

    line: int
    code: str
    title: str
    values: dict[str, Any] = field(default_factory=dict)
    changes: tuple[Change, ...] = ()
    reasons: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plan:
    lines: tuple[Planned, ...]

    def of(self, code: str) -> list[Planned]:
        return [one for one in self.lines if one.code == code]

    @property
    def added(self) -> list[Planned]:
        return self.of("add")

    @property
    def changed(self) -> list[Planned]:
        return self.of("change")

    @property
    def same(self) -> list[Planned]:
        return self.of("same")

    @property
    def refused(self) -> list[Planned]:
        return self.of("refuse")

    @property
    def stores(self) -> int:
        return len(self.added) + len(self.changed)

    @property
    def signature(self) -> str:
        """The same for the same plan: what was shown is what is stored."""
        told = "\n".join(f"{one.line} {one.code} {one.values} {one.changes}" for one in self.lines)
        return hashlib.blake2s(told.encode("utf-8", "surrogatepass"), digest_size=12).hexdigest()


def plan(lines: Sequence[SongLine], book: Iterable[Song]) -> Plan:
    """book: all of the teacher's songs. A song is known again by its title, exactly as written."""
    by_title = {song.title: song for song in book}
    room = MOST_SONGS - len(by_title)
    seen: dict[str, int] = {}
    found: list[Planned] = []
    for line in lines:
        one = _planned(line, by_title, seen)
        if one.code == "add":
            room -= 1
            if room < 0:
                full = _("The book is full: it holds %(most)s songs.") % {"most": MOST_SONGS}
                one = Planned(line.line, "refuse", one.title, reasons=(full,))
        if one.code != "refuse":
            seen[one.values["title"]] = line.line
        found.append(one)
    return Plan(tuple(found))


def _planned(line: SongLine, by_title: dict[str, Song], seen: dict[str, int]) -> Planned:
    cells = {name: line.cells[name] for name in FIELDS if name in line.cells}
    title = " ".join(cells.get("title", "").split())
    song = by_title.get(title)
    if song is not None:  # columns that the file has not keep what the book has
        cells = {name: str(getattr(song, name)) for name in FIELDS} | cells
    form = SongForm(cells)
    reasons = []
    if not form.is_valid():
        for name, errors in form.errors.items():
            reasons += [f"{form.fields[name].label}: {error}" for error in errors]
    if line.extra:
        reasons.append(_("There are more cells than columns: “%(cell)s”.") % {"cell": line.extra[0][:SHORT]})
    if title in seen:
        reasons.append(_("Line %(line)s has the same title.") % {"line": seen[title]})
    if reasons:
        return Planned(line.line, "refuse", title[:SHORT] or "–", reasons=tuple(reasons))
    values = form.cleaned_data
    unread = tuple(one.word for one in read_song(values["chords"], values["key"], values["capo"]).unread)
    if song is None:
        return Planned(line.line, "add", title, values, unread=unread)
    changes = tuple(
        Change(str(form.fields[name].label), str(getattr(song, name)), str(values[name]))
        for name in FIELDS
        if getattr(song, name) != values[name]
    )
    return Planned(line.line, "change" if changes else "same", title, values, changes, unread=unread)


def carry_out(found: Plan, teacher: Teacher) -> bool:
    """Stores what the plan adds and changes, all or nothing; False where the book has moved on meanwhile."""
    try:
        with transaction.atomic():
            rows = {song.title: song for song in Song.objects.select_for_update().filter(teacher=teacher)}
            changed = []
            for one in found.changed:
                song = rows[one.title]
                for name in FIELDS:
                    setattr(song, name, one.values[name])
                changed.append(song)
            for song in changed:
                song.save(update_fields=[*FIELDS, "changed_at"])
            Song.objects.bulk_create(Song(teacher=teacher, **one.values) for one in found.added)
    except (IntegrityError, KeyError):
        return False
    return True
