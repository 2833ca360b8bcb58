"""The song book's pages: list, one song, form with its look, deleting, files in and out, a student's songs."""

import datetime as dt
import re
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from practice.models import Song
from practice.song_csv import read_file
from practice.song_form import FIELDS, MOST_SONGS, SongForm
from practice.song_import import carry_out, plan
from tests.factory import (
    NOW,
    TODAY,
    chord_terms,
    make_goal,
    make_lesson,
    make_result,
    make_song,
    make_student,
    make_teacher,
)

HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def words(response):
    assert response.status_code == 200, response
    text = response.content.decode()
    main = re.search(r"<main.*?</main>", text, flags=re.S)
    return unescape(" ".join(re.sub(r"<[^>]*>", " ", main[0] if main else text).split()))


def get(cast, name, *args, who="teacher", **query):
    return cast.client(who).get(reverse(f"practice:{name}", args=args), query)


def post(cast, name, *args, who="teacher", follow=False, **data):
    return cast.client(who).post(reverse(f"practice:{name}", args=args), data, follow=follow)


def knows(student, shape, root):
    """A chord that is secure by the log."""
    goal = make_goal(student, target=5, terms=chord_terms(shape, root))
    make_result(goal, 6, day=TODAY - dt.timedelta(days=9))
    day = TODAY - dt.timedelta(days=7)
    lesson = student.lessons.filter(day=day).first() or make_lesson(student, day=day)
    make_result(goal, 6, day=day, lesson=lesson)


def rows(cast, who="teacher", **query):
    text = get(cast, "songs", who=who, **query).content.decode()
    return re.findall(r'<th scope="row"><a href="[^"]*">([^<]*)</a>', text)


# -- the list -----------------------------------------------------------------------------------------------------


def test_the_empty_book_offers_the_first_step(cast):
    shown = words(get(cast, "songs"))
    assert "Your songs will stand here" in shown
    assert "Add a song" in shown
    assert "hx-get" not in get(cast, "songs").content.decode().split('id="song-table"')[1].split(">")[0]


def test_a_song_stands_with_its_chords_as_fingered_and_as_they_sound(cast):
    make_song(cast.teacher, title="Paper Boats", key="G", capo=3, chords="G C D Em", level="2", tags="slow, singing")
    shown = words(get(cast, "songs"))
    for part in ("Paper Boats", "G C D Em", "sounds Bb Eb F Gm", "slow", "singing"):
        assert part in shown


def test_chords_that_cannot_be_read_are_marked_in_the_list(cast):
    make_song(cast.teacher, chords="G Hm D")
    assert "G D ▲ cannot be read: Hm" in words(get(cast, "songs"))


def test_a_teacher_sees_their_own_book_and_an_owner_each(cast):
    make_song(cast.teacher, title="Mine")
    make_song(cast.other_teacher, title="Theirs")
    make_song(cast.owner, title="The owner's")
    make_song(cast.stranger, title="Far away")
    assert rows(cast) == ["Mine"]
    assert rows(cast, who="owner") == ["The owner&#x27;s"]
    assert rows(cast, who="owner", teacher="") == ["Mine", "The owner&#x27;s", "Theirs"]
    assert rows(cast, who="owner", teacher=str(cast.other_teacher.code)) == ["Theirs"]
    # a teacher who asks for another's book gets their own
    assert rows(cast, teacher=str(cast.other_teacher.code)) == ["Mine"]


# what is asked for, titles
@pytest.mark.parametrize(
    ("query", "titles"),
    [
        ({}, ["Alder", "birch", "Cedar"]),
        ({"search": "ced"}, ["Cedar"]),
        ({"search": "F#m"}, ["birch"]),
        ({"tag": "pop"}, ["Alder"]),
        ({"tag": "pop punk"}, ["Cedar"]),
        ({"level": "2"}, ["birch"]),
        ({"sort": "-title"}, ["Cedar", "birch", "Alder"]),
        ({"sort": "level"}, ["birch", "Cedar", "Alder"]),
        ({"sort": "demand"}, ["Alder", "Cedar", "birch"]),
        ({"sort": "-capo"}, ["Cedar", "Alder", "birch"]),
        ({"sort": "chords,nonsense,readiness"}, ["Alder", "birch", "Cedar"]),
        ({"per_page": "1"}, ["Alder"]),
        ({"per_page": "1", "page": "3"}, ["Cedar"]),
        ({"per_page": "-5", "page": "none"}, ["Alder"]),
        ({"student": "no-such"}, ["Alder", "birch", "Cedar"]),
    ],
)
def test_narrowing_and_sorting(cast, query, titles):
    make_song(cast.teacher, title="Alder", chords="G C", tags="pop", level="hard")
    make_song(cast.teacher, title="birch", chords="A F#m D E", level="2", tags="slow")
    make_song(cast.teacher, title="Cedar", chords="Em G C", level="10", capo=2, tags="pop punk")
    assert rows(cast, **query) == titles


def test_who_is_ready_comes_after_the_page_or_on_a_page_of_its_own(cast):
    knows(cast.student, "open-G", "G")
    knows(cast.other_student, "open-G", "G")
    make_song(cast.teacher, title="One", chords="G")
    make_song(cast.teacher, title="Other", chords="Eb")
    first = get(cast, "songs").content.decode()
    assert "Robin Example</a>" not in first
    ask = unescape(re.search(r'id="song-table" hx-get="([^"]+)" hx-trigger="load"', first)[1])
    assert "who=1" in ask
    part = cast.client("teacher").get(ask, headers=HTMX)
    assert "<html" not in part.content.decode()
    for shown in (words(part), words(cast.client("teacher").get(ask))):
        assert re.search(r"One .*? Robin Example", shown)
        assert re.search(r"Other .*? nobody yet", shown)
        assert "Toni Other" not in shown


def test_an_owner_sees_the_students_of_the_book(cast):
    for student in (cast.student, cast.child, cast.other_student):
        knows(student, "open-G", "G")
    for n in range(3):
        knows(make_student(teacher=cast.teacher, name=f"More {n}"), "open-G", "G")
    make_song(cast.other_teacher, title="Theirs", chords="G")
    make_song(cast.teacher, title="Mine", chords="G")
    page = reverse("practice:songs") + "?teacher=&who=1"
    shown = words(cast.client("owner").get(page))
    assert re.search(r"Mine .*? 5 of 5 students", shown)
    assert re.search(r"Theirs .*? Toni Other", shown)


def test_for_a_student_each_song_says_what_is_missing_and_which_capo_helps(cast):
    for shape, root in (("open-G", "G"), ("open-C", "C"), ("open-D", "D"), ("open-Em", "E")):
        knows(cast.student, shape, root)
    make_song(cast.teacher, title="Ready", chords="G C D")
    make_song(cast.teacher, title="Behind a capo", key="A", chords="A D E F#m")
    make_song(cast.teacher, title="Odd", chords="C7b5 G")
    make_song(cast.teacher, title="Unread", chords="G Hm")
    query = {"student": str(cast.student.code), "sort": "readiness"}
    assert rows(cast, **query) == ["Ready", "Behind a capo", "Odd", "Unread"]
    shown = words(get(cast, "songs", **query))
    assert "● ready" in shown
    assert "lacks A (open), E (open), F#m (E-shape minor at 2) With the capo at 2 it is G C D Em: every chord" in shown
    assert "no shape gives C7b5 on this guitar" in shown
    assert "not known: Hm cannot be read" in shown


# session, user, teacher, songs, tags and levels, students of the filter
def test_queries_of_the_list_do_not_grow(cast, count_queries):
    def count(**query):
        pages = "&".join(f"{name}={value}" for name, value in query.items())
        return count_queries(cast.client("teacher"), reverse("practice:songs") + f"?{pages}")

    make_song(cast.teacher, tags="slow")
    knows(cast.student, "open-G", "G")
    asked = ({}, {"who": "1"}, {"student": cast.student.code}, {"tag": "slow"})
    few = [count(**query) for query in asked]
    for n in range(30):
        make_song(cast.teacher, tags="slow")
        knows(make_student(teacher=cast.teacher, name=f"More {n}"), "open-C", "C")
    assert [count(**query) for query in asked] == few
    assert few[0] <= 7
    assert max(few) <= 18


# -- one song -----------------------------------------------------------------------------------------------------


def test_a_song_with_its_chords_drawn_and_who_can_play_it(cast):
    knows(cast.student, "open-G", "G")
    song = make_song(cast.teacher, title="Paper Boats", key="G", capo=3, chords="G C D Em", tags="slow")
    page = get(cast, "song", song.code)
    shown = words(page)
    assert "As fingered G C D Em" in shown
    assert "With the capo at 3 sounds Bb Eb F Gm, in Bb major" in shown
    assert page.content.decode().count("<svg") == 4
    who = words(get(cast, "song-who", song.code))
    assert "Robin Example lacks C (open), D (open), Em (open)" in who
    assert "<html" not in cast.client("teacher").get(
        reverse("practice:song-who", args=[song.code]), headers=HTMX
    ).content.decode()


def test_a_capo_and_the_key_it_sounds_in_are_told_only_where_there_is_one(cast):
    shown = words(get(cast, "song", make_song(cast.teacher, key="G", chords="G D").code))
    assert "sounds" not in shown
    assert "no capo" in shown


def test_queries_of_a_song_do_not_grow(cast, count_queries):
    song = make_song(cast.teacher)
    knows(cast.student, "open-G", "G")
    asked = [reverse(f"practice:{name}", args=[song.code]) for name in ("song", "song-who", "song-edit", "song-delete")]
    few = [count_queries(cast.client("teacher"), path) for path in asked]
    for n in range(12):
        make_song(cast.teacher)
        knows(make_student(teacher=cast.teacher, name=f"More {n}"), "open-C", "C")
    assert [count_queries(cast.client("teacher"), path) for path in asked] == few
    assert few[0] <= 4
    assert few[1] <= 13


@pytest.mark.parametrize("name", ["song", "song-who", "song-edit", "song-delete"])
def test_another_teachers_song_is_404(cast, name):
    for teacher in (cast.other_teacher, cast.stranger):
        song = make_song(teacher)
        assert get(cast, name, song.code).status_code == 404
        assert post(cast, name, song.code, title="Taken", chords="G").status_code in (404, 405)
        song.refresh_from_db()
        assert song.title != "Taken"


# -- typing one ---------------------------------------------------------------------------------------------------


def test_a_song_is_stored_as_it_should_be_written(cast):
    typed = {"title": "  Paper   Boats ", "chords": " G C \r\nD  \r\n", "key": "a MINOR", "capo": ""}
    typed["tags"] = "slow,, a b , slow"
    response = post(cast, "song-add", follow=True, **typed)
    assert "Stored: Paper Boats." in words(response)
    song = Song.objects.get()
    assert (song.teacher, song.title, song.chords) == (cast.teacher, "Paper Boats", "G C\nD")
    assert (song.key, song.capo, song.tags, song.level) == ("A minor", 0, "slow, a b", "")


def test_chords_that_cannot_be_read_are_kept_as_typed_and_shown_with_the_place(cast):
    response = post(cast, "song-add", follow=True, title="Odd", chords="G C\nD Hm")
    shown = words(response)
    assert "Stored as typed. These chords cannot be read yet: Hm." in shown
    assert "Line 2, character 3: The chord 'Hm' cannot be read at 'H'" in shown
    assert "<mark>Hm</mark>" in response.content.decode()
    assert Song.objects.get().chords == "G C\nD Hm"


# what is typed, the field, the message
@pytest.mark.parametrize(
    ("typed", "name", "message"),
    [
        ({"title": " "}, "title", "Give the song a title."),
        ({"chords": " \n"}, "chords", "Write the song’s chords"),
        ({"key": "H dur"}, "key", "is no key"),
        ({"capo": "13"}, "capo", "whole number from 0 to 12"),
        ({"capo": "-1"}, "capo", "whole number from 0 to 12"),
        ({"capo": "two"}, "capo", "whole number from 0 to 12"),
        ({"title": "A\x07B"}, "title", "in one line"),
        ({"chords": "G\x07"}, "chords", "control character"),
        ({"chords": "G " * 1001}, "chords", "2000"),
        ({"title": "x" * 161}, "title", "160"),
        ({"tags": ", ".join(map(str, range(13)))}, "tags", "At most 12 tags."),
        ({"title": "Here already"}, "title", "has a song of this title"),
    ],
)
def test_what_is_wrong_stands_beside_its_field_and_stays_typed(cast, typed, name, message):
    make_song(cast.teacher, title="Here already")
    response = post(cast, "song-add", **({"title": "New", "chords": "G"} | typed))
    assert response.status_code == 200
    form = response.context["form"]
    assert list(form.errors) == [name]
    assert message in form.errors[name][0]
    assert form[name].value() == typed[name]
    assert Song.objects.count() == 1


def test_a_song_is_changed_and_keeps_its_own_title(cast):
    song = make_song(cast.teacher, title="Old", chords="G")
    assert 'value="Old"' in get(cast, "song-edit", song.code).content.decode()
    post(cast, "song-edit", song.code, title="Old", chords="C", key="C")
    song.refresh_from_db()
    assert (song.title, song.chords, song.key) == ("Old", "C", "C")


def test_an_owner_changes_a_teachers_song_and_it_stays_theirs(cast):
    song = make_song(cast.teacher, title="Old")
    make_song(cast.owner, title="Free here")
    post(cast, "song-edit", song.code, who="owner", title="Free here", chords="C")
    song.refresh_from_db()
    assert (song.teacher, song.title) == (cast.teacher, "Free here")


def test_a_title_taken_in_another_window_is_told(cast, monkeypatch):
    make_song(cast.teacher, title="Twice")
    monkeypatch.setattr(SongForm, "clean_title", lambda self: self.cleaned_data["title"])
    response = post(cast, "song-add", title="Twice", chords="G")
    assert "has a song of this title" in response.context["form"].errors["title"][0]
    assert Song.objects.count() == 1


def test_the_look_while_typing(cast):
    assert "will stand here" in words(post(cast, "song-preview"))
    shown = words(post(cast, "song-preview", chords="G C D Em", key="G", capo="3"))
    assert "sounds Bb Eb F Gm, in Bb major" in shown
    assert "Line 1, character 3" in words(post(cast, "song-preview", chords="G Hm", capo="x", key="??"))
    assert "No chord is asked for." in words(post(cast, "song-preview", chords="N.C."))
    assert "bass note" in words(post(cast, "song-preview", chords="D/F#"))
    assert Song.objects.count() == 0


def test_the_look_takes_as_much_as_a_song_may_hold(cast):
    """In an address 2,000 typed characters would be longer than the 4,094 bytes of a request's first line that gunicorn
    reads (its documented limit_request_line)."""
    url = reverse("practice:song-preview")
    assert f'hx-post="{url}"' in cast.client("teacher").get(reverse("practice:song-add")).content.decode()
    assert cast.client("teacher").get(url).status_code == 405
    assert "sounds" in words(post(cast, "song-preview", chords="F#m7 / " * 285, capo="3"))


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(chords=st.text(max_size=40), key=st.text(max_size=8), capo=st.text(max_size=4))
def test_the_look_stands_whatever_is_typed(cast, chords, key, capo):
    assert post(cast, "song-preview", chords=chords, key=key, capo=capo).status_code == 200


def test_deleting_asks_first(cast):
    song = make_song(cast.teacher, title="Gone soon")
    assert "out of the book?" in words(get(cast, "song-delete", song.code))
    assert Song.objects.count() == 1
    assert "Gone soon is taken out" in words(post(cast, "song-delete", song.code, follow=True))
    assert Song.objects.count() == 0


# -- files --------------------------------------------------------------------------------------------------------


def exported(cast, who="teacher", **query):
    response = get(cast, "songs-csv", who=who, **query)
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert re.search(r'filename="songs-2026-11-12.csv"', response["Content-Disposition"])
    assert response["Cache-Control"] == "no-store"
    return response.content


def agree(cast, data, who="teacher"):
    """Sends a file, looks at the plan, agrees to it; (the page of the plan, the page after)."""
    looked = post(cast, "song-import", who=who, file=SimpleUploadedFile("songs.csv", data))
    shown = looked.context["plan"]
    sent = {"plan": shown.signature, "text": looked.context["text"]}
    return looked, post(cast, "song-import", who=who, follow=True, **sent)


def test_the_file_has_what_the_list_shows_and_no_formula(cast):
    make_song(cast.teacher, title="=cmd|' /C calc'!A0", chords="-7 G", tags="slow")
    make_song(cast.teacher, title="Other", tags="loud")
    make_song(cast.other_teacher, title="Not mine")
    text = exported(cast, tag="slow").decode("utf-8-sig")
    assert text.splitlines()[0] == "title,key,capo,chords,level,tags"
    assert text.splitlines()[1].startswith("'=cmd")
    assert "'-7 G" in text
    assert "Other" not in text
    assert "Not mine" not in exported(cast).decode("utf-8-sig")


def test_nothing_is_stored_before_the_plan_is_agreed_to(cast):
    make_song(cast.teacher, title="Same", key="G", chords="G C D")
    make_song(cast.teacher, title="Changes", chords="G", level="3")
    data = (
        b"title;chords;capo;key\nSame;G C D;;G\nChanges;G C;2;G\nNew;G Hm;;\nBad;G;99;\n;G;;\nNew;C;;\nLong;G;;;more\n"
    )
    before = list(Song.objects.values_list(*FIELDS))
    looked = post(cast, "song-import", file=SimpleUploadedFile("songs.csv", data))
    assert list(Song.objects.values_list(*FIELDS)) == before
    found = looked.context["plan"]
    assert [(one.line, one.code) for one in found.lines] == [
        (2, "same"), (3, "change"), (4, "add"), (5, "refuse"), (6, "refuse"), (7, "refuse"), (8, "refuse"),
    ]  # fmt: skip
    shown = words(looked)
    assert "1 song added · 1 changed · 1 as they are · 4 refused" in shown
    assert "Capo at fret: 0 → 2" in shown
    assert "Capo at fret: Write a whole number from 0 to 12." in shown
    assert "Title: Give the song a title." in shown
    assert "Line 4 has the same title." in shown
    assert "more cells than columns: “more”" in shown
    assert "kept as typed, cannot be read: Hm" in shown
    _, after = agree(cast, data)
    assert "Stored: 1 added, 1 changed. Left out: 4." in words(after)
    # columns that the file has not keep what the book has
    assert Song.objects.filter(title="Changes", capo=2, level="3", chords="G C").exists()
    assert Song.objects.get(title="New").chords == "G Hm"
    assert Song.objects.count() == 3


def test_a_book_that_moved_on_is_looked_at_again(cast):
    data = b"title,chords\nNew,G\n"
    looked = post(cast, "song-import", file=SimpleUploadedFile("songs.csv", data))
    make_song(cast.teacher, title="New", chords="C")
    again = post(cast, "song-import", plan=looked.context["plan"].signature, text=looked.context["text"])
    assert "The book has changed" in words(again)
    assert Song.objects.get().chords == "C"


@pytest.mark.parametrize(
    "data",
    [
        "title,chords,tags\n" + "".join(f"Песня {n},G C D,{'я' * 90}\n" for n in range(400)),
        'title,chords\n"New","G\rC"\r\nOther,D\n',
    ],
    ids=["long and not Latin", "all three line ends"],
)
def test_what_was_looked_at_is_stored_when_the_page_is_sent_back_as_a_browser_does(cast, data):
    looked = post(cast, "song-import", file=SimpleUploadedFile("songs.csv", data.encode()))
    page = looked.content.decode()
    form = re.search(r'<form method="post"[^>]*>(?=(?:(?!</form>).)*name="plan")', page, flags=re.S)[0]
    # a form sends fields percent-encoded, three bytes for each beyond ASCII, unless it says otherwise
    assert 'enctype="multipart/form-data"' in form
    text = unescape(re.search(r"<textarea[^>]*>\n(.*?)</textarea>", page, flags=re.S)[1])
    sent = re.sub(r"\r\n|\r|\n", "\r\n", text)
    after = post(cast, "song-import", plan=looked.context["plan"].signature, text=sent)
    assert after.status_code == 302
    assert Song.objects.count() == len(looked.context["plan"].added)


def test_all_of_a_plan_is_stored_or_nothing(cast):
    found = plan(read_file(b"title,chords\nOne,G\nTwo,C\n"), [])
    make_song(cast.teacher, title="Two")
    assert carry_out(found, cast.teacher) is False
    assert list(Song.objects.values_list("title", flat=True)) == ["Two"]


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ("title,chords\nÉ,G\n".encode("latin-1"), "not UTF-8: line 2"),
        ("title,chords\n".encode("utf-16"), "UTF-16"),
        (b"song,chords\n", "must name the columns"),
        (b"", "empty"),
        (b"x" * 1_100_000, "larger than"),
    ],
)
def test_a_file_that_cannot_be_read_is_told_plainly(cast, data, message):
    shown = words(post(cast, "song-import", file=SimpleUploadedFile("songs.csv", data)))
    assert message in shown
    assert Song.objects.count() == 0


def test_lines_can_be_pasted_and_a_wrong_paste_stays_typed(cast):
    assert "Choose a file" in words(post(cast, "song-import"))
    response = post(cast, "song-import", text="no header here")
    assert "must name the columns" in words(response)
    assert "no header here" in response.content.decode()
    looked = post(cast, "song-import", text="title,chords\r\nNew,G C\r\n")
    assert [one.code for one in looked.context["plan"].lines] == ["add"]


def test_an_import_goes_into_ones_own_book(cast):
    make_song(cast.teacher, title="Mine", chords="G")
    agree(cast, b"title,chords\nMine,C\n", who="owner")
    assert set(Song.objects.values_list("teacher__name", "chords")) == {("Ada Teacher", "G"), ("Oona Owner", "C")}


def test_a_full_book_takes_no_more(cast, monkeypatch):
    monkeypatch.setattr("practice.song_import.MOST_SONGS", 1)
    monkeypatch.setattr("practice.views.songs.MOST_SONGS", 1)
    make_song(cast.teacher, title="One")
    found = plan(read_file(b"title,chords\nTwo,C\nOne,D\n"), Song.objects.all())
    assert [one.code for one in found.lines] == ["refuse", "change"]
    assert "The book is full" in words(post(cast, "song-add", title="Two", chords="G"))
    assert MOST_SONGS > 1


line = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")) | st.sampled_from("='+-@\uff1d\u200b\",; "))
typed = st.fixed_dictionaries(
    {
        "title": line,
        "chords": st.lists(line, max_size=3).map("\r\n".join) | st.sampled_from(["G C D", "=G", "'=G"]),
        "key": st.sampled_from(["", "G", "f# minor", "Bb", "am"]),
        "capo": st.sampled_from(["", "0", "5", "12"]),
        "level": line,
        "tags": line,
    }
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(st.lists(typed, min_size=1, max_size=5))
def test_a_book_written_and_read_is_the_same_book(cast, songs):
    """What the form takes, the export writes, and the import reads back: in an empty book all of it, in the same book
    nothing."""
    Song.objects.all().delete()
    for values in songs:
        form = SongForm(values, taken=set(Song.objects.values_list("title", flat=True)))
        if form.is_valid():
            Song.objects.create(teacher=cast.teacher, **form.cleaned_data)
    data = exported(cast)
    if not Song.objects.exists():
        return
    book = list(Song.objects.order_by("title").values_list(*FIELDS))
    again = plan(read_file(data), Song.objects.all())
    assert {one.code for one in again.lines} == {"same"}
    Song.objects.all().delete()
    fresh = plan(read_file(data), [])
    assert {one.code for one in fresh.lines} == {"add"}
    assert carry_out(fresh, cast.teacher)
    assert list(Song.objects.order_by("title").values_list(*FIELDS)) == book


# -- a student's songs --------------------------------------------------------------------------------------------


def test_a_students_songs_that_are_ready_and_those_one_chord_away(cast):
    for shape, root in (("open-G", "G"), ("open-C", "C"), ("open-D", "D"), ("open-Em", "E")):
        knows(cast.student, shape, root)
    make_song(cast.teacher, title="Ready", chords="G C D")
    make_song(cast.teacher, title="Nearly", chords="G Bm")
    make_song(cast.teacher, title="Far", chords="Eb Ab Bb")
    make_song(cast.other_teacher, title="Of another book", chords="G")
    shown = words(get(cast, "student-songs", cast.student.code))
    assert "1 song ready: Ready" in shown
    assert "Nearly lacks Bm (A-shape minor at 2)" in shown
    assert "Far" not in shown
    assert "Of another book" not in shown
    part = cast.client("teacher").get(reverse("practice:student-songs", args=[cast.student.code]), headers=HTMX)
    assert "<html" not in part.content.decode()


def test_a_student_without_songs(cast):
    assert "The song book is empty." in words(get(cast, "student-songs", cast.student.code))
    make_song(cast.teacher, chords="Eb")
    assert "No song of the book is ready yet." in words(get(cast, "student-songs", cast.student.code))


def test_the_students_page_asks_for_them_later(cast):
    make_song(cast.teacher, title="Later please", chords="G")
    text = get(cast, "student", cast.student.code).content.decode()
    assert f'hx-get="{reverse("practice:student-songs", args=[cast.student.code])}" hx-trigger="load"' in text
    assert "Later please" not in text


def test_queries_of_a_students_songs_do_not_grow(cast, count_queries):
    path = reverse("practice:student-songs", args=[cast.student.code])
    make_song(cast.teacher, chords="G")
    few = count_queries(cast.client("teacher"), path)
    for _ in range(20):
        make_song(cast.teacher, chords="G Bm")
    knows(cast.student, "open-G", "G")
    # session, user, teacher, student, facts (8), the book
    assert count_queries(cast.client("teacher"), path) == few <= 13


def test_a_former_studio_keeps_nothing_here(cast):
    """Songs go with their teacher."""
    gone = make_teacher(studio=cast.studio, name="Leaving")
    make_song(gone)
    gone.delete()
    assert Song.objects.count() == 0
