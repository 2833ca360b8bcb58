"""The song book: the list and who each song is ready for, one song, its form with a look while typing, CSV files."""

import re
import uuid
from typing import Any

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_tables2 import RequestConfig

from practice import suggest
from practice.goal_form import key_names
from practice.models import Song
from practice.queries import facts_of, student_facts
from practice.song_csv import COLUMNS, MOST_BYTES, SongFileError, read_file, write
from practice.song_form import FIELDS, MOST_SONGS, SongForm, initial_of, tags_of, typed_song
from practice.song_import import carry_out, plan
from practice.song_look import look_at_song
from practice.song_table import Player, SongFilter, SongTable, rows_of
from practice.songbook import by_readiness
from practice.summary import HALF_YEAR
from practice.words import say
from students.models import Student
from students.viewer import Viewer

MOST_SHOWN = 12  # songs of each kind on the student's page


def _seen(request: HttpRequest) -> QuerySet[Song]:
    return Song.objects.visible_to(request.viewer).select_related("teacher")


def _song(request: HttpRequest, code: uuid.UUID) -> Song:
    return get_object_or_404(_seen(request), code=code)


def _player(student: Student) -> Player:
    """One student against the song book; eight queries. `student` comes with its studio."""
    today = student.studio.today(timezone.now())
    # no entry bears on what is known, and of the hand's notes half a year's on what rests
    facts = student_facts(student, today, since=today - HALF_YEAR)
    return Player(student, suggest.in_hand(facts, today), facts.instrument, facts.hand)


def _players(viewer: Viewer) -> list[Player]:
    """Every current student of the viewer; eight queries, for any number."""
    today = viewer.studio.today(timezone.now())
    seen = Student.objects.visible_to(viewer).current().select_related("studio", "teacher")
    students = list(seen.with_hand_consent(today).order_by("name", "pk"))
    facts = facts_of(students, today, since=today - HALF_YEAR)
    return [
        Player(one, suggest.in_hand(facts[one.pk], today), facts[one.pk].instrument, facts[one.pk].hand)
        for one in students
    ]


# -- the list -----------------------------------------------------------------------------------------------------


@require_safe
def songs(request: HttpRequest) -> HttpResponse:
    """The book, narrowed and sorted. For a student chosen each song says where they stand; else the table is asked
    for again, with everybody for whom a song is ready (`who`), which may take a moment."""
    narrowed = SongFilter(request.GET, queryset=_seen(request), request=request)
    asked = narrowed.form.cleaned_data if narrowed.form.is_valid() else {}
    student = asked.get("student")
    player = _player(student) if student else None
    several = request.viewer.owns and not asked.get("teacher")
    table = SongTable(rows_of(narrowed.qs, player), teachers=several, player=player)
    RequestConfig(request).configure(table)
    who = "who" in request.GET and player is None
    table.ready(_players(request.viewer) if who else None)
    context = {"nav": "songs", "filter": narrowed, "table": table, "student": student, "who": who}
    response = render(request, "practice/_song_table.html" if request.htmx else "practice/songs.html", context)
    patch_vary_headers(response, ["HX-Request"])
    return response


@require_safe
def songs_csv(request: HttpRequest) -> HttpResponse:
    """The same list as a file, by title; the owner of several books sees their songs in one."""
    narrowed = SongFilter(request.GET, queryset=_seen(request), request=request)
    text = write([getattr(song, name) for name in COLUMNS] for song in narrowed.qs.order_by("title", "pk"))
    # with a byte order mark, by which spreadsheets know UTF-8
    response = HttpResponse(text.encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    today = request.viewer.studio.today(timezone.now())
    response["Content-Disposition"] = f'attachment; filename="songs-{today:%Y-%m-%d}.csv"'
    response["Cache-Control"] = "no-store"
    return response


# -- one song -----------------------------------------------------------------------------------------------------


@require_safe
def song(request: HttpRequest, song: uuid.UUID) -> HttpResponse:
    row = _song(request, song)
    context = {"nav": "songs", "song": row, "look": look_at_song(row.facts), "tags": tags_of(row.tags)}
    return render(request, "practice/song.html", context)


@require_safe
def who(request: HttpRequest, song: uuid.UUID) -> HttpResponse:
    """Who is ready for the song, and what the others lack: a part of its page, or a page of its own."""
    row = _song(request, song)
    own = [player for player in _players(request.viewer) if player.student.teacher_id == row.teacher_id]
    standings = [(player.student, player.stands(row)) for player in own]
    standings.sort(key=lambda pair: (not pair[1].ready, len(pair[1].lacks), pair[0].name))
    context = {"nav": "songs", "song": row, "standings": standings}
    response = render(request, "practice/_song_who.html" if request.htmx else "practice/song_who.html", context)
    patch_vary_headers(response, ["HX-Request"])
    return response


@require_POST
def preview(request: HttpRequest) -> HttpResponse:
    """What the typed song is: chords as fingered and as heard, and the place where reading stops. Stores nothing; by
    POST, since 2,000 typed characters are longer than the line that an address may fill."""
    typed = typed_song(SongForm(request.POST))
    return render(request, "practice/_song_look.html", {"look": look_at_song(typed)})


@require_http_methods(["GET", "HEAD", "POST"])
def song_add(request: HttpRequest) -> HttpResponse:
    return _form(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def song_edit(request: HttpRequest, song: uuid.UUID) -> HttpResponse:
    return _form(request, _song(request, song))


def _form(request: HttpRequest, row: Song | None) -> HttpResponse:
    if request.method != "POST":
        form = SongForm(initial=initial_of(row) if row else {})
        return _form_page(request, row, form)
    # an owner may edit another teacher's book; a new song goes into one's own
    teacher = row.teacher if row else request.viewer.teacher
    others = dict(Song.objects.filter(teacher=teacher).values_list("code", "title"))
    if row:
        others.pop(row.code, None)
    form = SongForm(request.POST, taken=others.values())
    if row is None and len(others) >= MOST_SONGS:
        form.add_error(None, _("The book is full: it holds %(most)s songs.") % {"most": MOST_SONGS})
    if not form.is_valid():
        return _form_page(request, row, form)
    stored = _store(form, row, teacher)
    if stored is None:
        return _form_page(request, row, form)
    unread = look_at_song(stored.facts, diagrams=False).unread
    if unread:
        words = ", ".join(dict.fromkeys(one.word for one in unread))[:120]
        messages.warning(request, _("Stored as typed. These chords cannot be read yet: %(words)s.") % {"words": words})
    else:
        messages.success(request, _("Stored: %(title)s.") % {"title": stored.title})
    return redirect("practice:song", song=stored.code)


def _store(form: SongForm, row: Song | None, teacher: Any) -> Song | None:
    """The stored song; None where another window took the title meanwhile, said beside it."""
    values = {name: form.cleaned_data[name] for name in FIELDS}
    try:
        with transaction.atomic():
            if row is None:
                return Song.objects.create(teacher=teacher, **values)
            for name, value in values.items():
                setattr(row, name, value)
            row.save(update_fields=[*FIELDS, "changed_at"])
            return row
    except IntegrityError:
        form.add_error("title", _("The book has a song of this title. Add a word to tell them apart."))
        return None


def _form_page(request: HttpRequest, row: Song | None, form: SongForm) -> HttpResponse:
    context = {
        "nav": "songs",
        "song": row,
        "title": initial_of(row)["title"] if row else "",
        "form": form,
        "look": look_at_song(typed_song(form)),
        "keys": key_names(),
    }
    return render(request, "practice/song_form.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def song_delete(request: HttpRequest, song: uuid.UUID) -> HttpResponse:
    """Asks, then takes the song out of the book."""
    row = _song(request, song)
    if request.method == "POST":
        row.delete()
        messages.success(request, _("%(title)s is taken out of the song book.") % {"title": row.title})
        return redirect("practice:songs")
    return render(request, "practice/song_delete.html", {"nav": "songs", "song": row})


# -- a file -------------------------------------------------------------------------------------------------------


LINE_END = re.compile(rb"\r\n|\r|\n")


@require_http_methods(["GET", "HEAD", "POST"])
def song_import(request: HttpRequest) -> HttpResponse:
    """Reads a file and shows what it would do, line by line; stores it when that very plan is agreed to."""
    if request.method != "POST":
        return _import_page(request)
    sent = request.FILES.get("file")
    typed = request.POST.get("text", "")
    if sent is None and not typed.strip():
        return _import_page(request, error=_("Choose a file, or paste its lines."))
    # one byte beyond the most is enough to know that it is too long
    data = sent.read(MOST_BYTES + 1) if sent is not None else typed.encode("utf-8", "replace")
    # line ends as a form sends them: what is looked at now comes back the same when it is agreed to
    data = LINE_END.sub(b"\r\n", data)
    try:
        lines = read_file(data)
    except SongFileError as error:
        return _import_page(request, error=say(error.says), text=typed)
    teacher = request.viewer.teacher
    found = plan(lines, Song.objects.filter(teacher=teacher))
    text = data.decode("utf-8-sig")
    agreed = request.POST.get("plan", "")
    if agreed and agreed == found.signature and carry_out(found, teacher):
        counts = {"added": len(found.added), "changed": len(found.changed), "refused": len(found.refused)}
        messages.success(
            request,
            _("Stored: %(added)s added, %(changed)s changed. Left out: %(refused)s.") % counts,
        )
        return redirect("practice:songs")
    return _import_page(request, plan=found, text=text, moved=bool(agreed))


def _import_page(request: HttpRequest, **more: Any) -> HttpResponse:
    context = {"nav": "songs", "columns": ", ".join(COLUMNS), "plan": None, "text": "", "error": "", **more}
    return render(request, "practice/song_import.html", context)


# -- a student's songs --------------------------------------------------------------------------------------------


@require_safe
def student_songs(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """Songs that are ready, and those one chord away with what is missing: a part of the student's page."""
    seen = Student.objects.visible_to(request.viewer).select_related("studio", "teacher")
    row = get_object_or_404(seen, code=student)
    player = _player(row)
    book = list(Song.objects.visible_to(request.viewer).played_by(row))
    standings = [player.stands(song, way_out=False) for song in book]
    ready, near = by_readiness(standings)
    by_code = {str(song.code): song for song in book}
    shown = [(one.song, player.stands(by_code[one.song.code])) for one in near[:MOST_SHOWN]]
    context = {
        "nav": "roster",
        "student": row,
        "songs": len(book),
        "ready": [one.song for one in ready[:MOST_SHOWN]],
        "ready_more": max(0, len(ready) - MOST_SHOWN),
        "ready_all": len(ready),
        "waiting": sum(one.rests for one in standings),
        "near": shown,
        "level": 3 if request.htmx else 2,
        "near_more": max(0, len(near) - MOST_SHOWN),
    }
    name = "practice/_student_songs.html" if request.htmx else "practice/student_songs.html"
    response = render(request, name, context)
    patch_vary_headers(response, ["HX-Request"])
    return response
