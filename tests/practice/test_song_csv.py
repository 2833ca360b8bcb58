"""Songs as a table file and back: formula signs, encodings, what a file may not be; reading undoes writing."""

import csv
import io
import unicodedata

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from practice.song_csv import COLUMNS, MOST_BYTES, MOST_LINES, SongFileError, neutral, plain, read_file, write
from practice.words import say


def cells(data: bytes):
    return [line.cells for line in read_file(data)]


# -- formula signs (OWASP, "CSV Injection", from memory: = + - @, tab, carriage return) ---------------------------


@pytest.mark.parametrize(
    "cell",
    [
        "=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\u00a0=1",
        "\uff1d1", "\uff0b1", "\uff0d1", "\uff20x",  # full width
        "\ufe661", "\ufe621", "\ufe631", "\ufe6bx",  # small forms
        "\u207c1", "\u208c1", "\u207a1", "\u208a1", "\u207b1", "\u208b1",  # superscripts and subscripts
        "\u22121", "\u20101", "\u20131",  # minus sign, hyphen, en dash
        "\u200b=1", "\u2060=1", "\ufeff=1", "\u202e=1", "\u00ad=1", "\u200b\u200d \uff1d1",  # nothing to see before it
        "'=1", "''+1",
    ],
)  # fmt: skip
def test_what_a_spreadsheet_may_take_for_a_formula_is_written_with_an_apostrophe(cell):
    assert neutral(cell) == f"'{cell}"
    assert plain(neutral(cell)) == cell


@pytest.mark.parametrize("cell", ["", "Song", "G C D", "'til noon", "1 - 2", "a=b", "\u200bSong", "'", "(=1)"])
def test_other_cells_are_written_as_they_are(cell):
    assert neutral(cell) == cell == plain(cell)


@given(st.text() | st.text(alphabet="'=+-@ \t\r\n\u200b\uff1d\ufe63x", max_size=6))
def test_a_written_cell_reads_back_and_begins_no_formula(cell):
    written = neutral(cell)
    assert plain(written) == cell
    seen = "".join(sign for sign in written if unicodedata.category(sign) not in ("Cf", "Cc", "Zs", "Zl", "Zp"))
    assert unicodedata.normalize("NFKC", seen[:1])[:1] not in ("=", "+", "-", "@")


def test_a_sign_that_was_typed_by_hand_is_read_as_it_is():
    assert cells(b"title,chords\n-7 Blues,=C\n") == [{"title": "-7 Blues", "chords": "=C"}]


# -- there and back -----------------------------------------------------------------------------------------------

text = st.text(
    st.characters(blacklist_categories=("Cs",), blacklist_characters="\0") | st.sampled_from("'=+-@,;\"\n\r| "),
    max_size=20,
)
song = st.tuples(*[text] * len(COLUMNS))


@given(st.lists(song, max_size=6), st.sampled_from(["utf-8", "utf-8-sig"]))
@example([("=", "'=", "''", '"', ",", ";")], "utf-8")
@example([("\ufeff", "", "", "", "", "")], "utf-8")
def test_what_is_written_is_read_again(songs, encoding):
    read = read_file(write(songs).encode(encoding))
    # a line of nothing but spaces is no song
    kept = [one for one in songs if any(neutral(cell).strip() for cell in one)]
    assert [tuple(line.cells.values()) for line in read] == kept
    assert all(tuple(line.cells) == COLUMNS and line.extra == () for line in read)


@given(st.lists(song, min_size=1, max_size=4))
def test_the_standard_library_reads_the_same_rows(songs):
    rows = list(csv.reader(io.StringIO(write(songs), newline="")))
    assert rows[0] == list(COLUMNS)
    assert [tuple(map(plain, row)) for row in rows[1:]] == songs


@given(st.lists(song, min_size=1, max_size=4))
def test_semicolons_are_read_alike(songs):
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=";")
    writer.writerow(COLUMNS)
    writer.writerows([neutral(cell) for cell in one] for one in songs)
    kept = [one for one in songs if any(neutral(cell).strip() for cell in one)]
    assert [tuple(line.cells.values()) for line in read_file(text.getvalue().encode())] == kept


# the file, its cells by line
@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"title,chords\nA,G\n", {2: ("A", "G")}),
        (b"\xef\xbb\xbftitle;chords\r\nA;G\r\n", {2: ("A", "G")}),
        (b'"Title";"Chords"\nA;"G, C"\n', {2: ("A", "G, C")}),
        (b"TITLE , Chords,,\nA,G,,\n", {2: ("A", "G")}),
        (b"\n\ntitle,chords\n\nA,G\n , \nB,C\n", {5: ("A", "G"), 7: ("B", "C")}),
        (b'title,chords\nA,"G\nC"\nB,D', {2: ("A", "G\nC"), 4: ("B", "D")}),
    ],
)
def test_files_as_editors_and_spreadsheets_write_them(data, expected):
    assert {line.line: tuple(line.cells.values()) for line in read_file(data)} == expected


def test_columns_in_any_order_and_cells_too_many_or_too_few():
    (one,) = read_file(b"chords,title,capo\nG,A\n")
    assert dict(one.cells) == {"chords": "G", "title": "A"}
    (two,) = read_file(b"title,chords\nA,G,C,D\n")
    assert two.extra == ("C", "D")


# the file, what is said
@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \n", "empty"),
        ("title,chords\nÉtude,G\n".encode("latin-1"), "not UTF-8: line 2 holds the byte 0xC9"),
        ("title,chords\n".encode("utf-16"), "UTF-16"),
        ("title,chords\n".encode("utf-32"), "UTF-32"),
        (b"PK\x03\x04\0\0", "not a text file"),
        (b"\x89PNG\r\n", "not UTF-8"),
        (b"G C D\n", "must name the columns"),
        (b"title,key\nA,G\n", "lacks chords"),
        (b"title,chords,artist\nA,G,x\n", "“artist”"),
        (b"title,chords,Title\nA,G,x\n", "“title” twice"),
        (b'title,chords\nA,"G\n', "quotation marks"),
        (b'title,chords\nA,"G"C\n', "quotation marks"),
        (b"title,chords\nA," + b"G" * 200_000, "far too long"),
        (b"title,chords\n" + b"x" * MOST_BYTES, "larger than"),
        (b"title,chords\n" + b"A,G\n" * (MOST_LINES + 1), "more than"),
    ],
)
def test_what_cannot_be_read_at_all_is_told_plainly(data, words):
    with pytest.raises(SongFileError) as told:
        read_file(data)
    assert words in say(told.value.says)


@given(st.binary(max_size=80) | st.binary(max_size=40).map(lambda tail: b"title,chords\n" + tail))
def test_any_bytes_are_read_or_told(data):
    told = None
    try:
        read_file(data)
    except SongFileError as error:
        told = error
    assert told is None or say(told.says)
