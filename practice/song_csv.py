"""Songs as a CSV file (RFC 4180) and back, with plain values: reading is the inverse of writing.

Conventions: UTF-8; the first line names the columns, in any order; cells are parted by commas or by semicolons,
whichever the first line uses. Lines are counted from 1 as an editor shows them.

A spreadsheet takes a cell that begins with a formula sign for a formula. Such a cell is written with an apostrophe
before it, and read back without. What counts as a sign: = + - @, their look-alikes under Unicode's compatibility forms
(NFKC) and the minus and dash characters; whatever stands invisibly before them (categories Cf, Cc, Z) is looked
through. A cell that has the apostrophe already gets another one, so that reading takes off only what writing put on.

References
----------
RFC 4180. OWASP, "CSV Injection" (from memory): the signs = + - @, tab and carriage return, and their full-width forms.
"""

import codecs
import csv
import io
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from practice.said import Said, said

__all__ = ["COLUMNS", "MOST_BYTES", "MOST_LINES", "SongFileError", "SongLine", "neutral", "plain", "read_file", "write"]

COLUMNS = ("title", "key", "capo", "chords", "level", "tags")
NEEDED = ("title", "chords")
MOST_BYTES = 1_000_000
MOST_LINES = 2_000

# Byte order marks of what is not UTF-8, the longer ones first.
_OTHER_MARKS = (
    (codecs.BOM_UTF32_LE, "UTF-32"),
    (codecs.BOM_UTF32_BE, "UTF-32"),
    (codecs.BOM_UTF16_LE, "UTF-16"),
    (codecs.BOM_UTF16_BE, "UTF-16"),
)


class SongFileError(ValueError):
    """A file that cannot be read at all. says: why, for the person who sent it."""

    def __init__(self, says: Said) -> None:
        super().__init__(says.code)
        self.says = says


@dataclass(frozen=True)
class SongLine:
    """One line of the file. line: where it begins; cells: column -> text; extra: what stands beyond the columns."""

    line: int
    cells: Mapping[str, str]
    extra: tuple[str, ...] = ()


# -- formula signs ------------------------------------------------------------------------------------------------


def _is_formula(cell: str) -> bool:
    """Whether a spreadsheet may take the cell for a formula, apostrophes before it left aside."""
    begin = 0
    while begin < len(cell) and (cell[begin] == "'" or unicodedata.category(cell[begin]) in _UNSEEN):
        if cell[begin] in "\t\r\n":
            return True  # some programs drop these and look at what follows, whatever it is
        begin += 1
    if begin == len(cell):
        return False
    sign = unicodedata.normalize("NFKC", cell[begin])[:1]
    return sign in "=+-@" or sign == "\N{MINUS SIGN}" or unicodedata.category(cell[begin]) == "Pd"


_UNSEEN = frozenset({"Cc", "Cf", "Zs", "Zl", "Zp"})


def neutral(cell: str) -> str:
    """The cell as it is written: with an apostrophe before what a spreadsheet would take for a formula.

    >>> neutral("=1+1"), neutral("Song"), plain(neutral("'=1+1"))
    ("'=1+1", 'Song', "'=1+1")
    """
    return f"'{cell}" if _is_formula(cell) else cell


def plain(cell: str) -> str:
    """The inverse of `neutral`; a cell that it did not write is left as it is."""
    return cell[1:] if cell.startswith("'") and _is_formula(cell[1:]) else cell


# -- writing ------------------------------------------------------------------------------------------------------


def write(songs: Iterable[Sequence[object]]) -> str:
    """The file's text, CRLF at the end of each line. songs: their cells in the order of COLUMNS."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    writer.writerows([neutral(str(cell)) for cell in song] for song in songs)
    return text.getvalue()


# -- reading ------------------------------------------------------------------------------------------------------


def read_file(data: bytes) -> list[SongLine]:
    """The lines of a file, its header and empty lines left out.

    Raises SongFileError where nothing can be made of it: too long, not UTF-8, no header that names title and chords,
    a column named twice, quotation marks that do not close.
    """
    text = _decoded(data)
    delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        header = _header(next((cells for cells in reader if any(cell.strip() for cell in cells)), []))
        return _lines(reader, header)
    except csv.Error as error:
        if "field larger" in str(error):
            raise SongFileError(said("songs-file-cell", line=reader.line_num)) from None
        raise SongFileError(said("songs-file-quotes", line=reader.line_num)) from None


def _decoded(data: bytes) -> str:
    if len(data) > MOST_BYTES:
        raise SongFileError(said("songs-file-size", most=MOST_BYTES // 1000))
    for mark, name in _OTHER_MARKS:
        if data.startswith(mark):
            raise SongFileError(said("songs-file-encoding", name=name))
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise SongFileError(said("songs-file-bytes", line=line, byte=f"0x{data[error.start]:02X}")) from None
    if "\0" in text:
        raise SongFileError(said("songs-file-no-text"))
    if not text.strip():
        raise SongFileError(said("songs-file-empty"))
    return text


def _delimiter(text: str) -> str:
    """What parts the cells: of the two signs the one that gives more known column names."""
    first = text.lstrip("\r\n").splitlines()[0]

    def known(sign: str) -> int:
        return sum(_name(cell) in COLUMNS for cell in first.split(sign))

    return ";" if known(";") > known(",") else ","


def _name(cell: str) -> str:
    return cell.strip().strip('"').strip().casefold()


def _header(cells: list[str]) -> list[str]:
    names = [_name(cell) for cell in cells]
    while names and not names[-1]:
        names.pop()
    missing = [name for name in NEEDED if name not in names]
    if missing:
        raise SongFileError(said("songs-file-header", columns=", ".join(COLUMNS), missing=", ".join(missing)))
    for name in names:
        if name not in COLUMNS:
            raise SongFileError(said("songs-file-column", name=name[:40], columns=", ".join(COLUMNS)))
        if names.count(name) > 1:
            raise SongFileError(said("songs-file-twice", name=name))
    return names


def _lines(reader: Iterable[list[str]], header: list[str]) -> list[SongLine]:
    found: list[SongLine] = []
    begun = getattr(reader, "line_num", 1) + 1
    for cells in reader:
        if any(cell.strip() for cell in cells):
            if len(found) == MOST_LINES:
                raise SongFileError(said("songs-file-lines", most=MOST_LINES))
            texts = [plain(cell) for cell in cells]
            extra = tuple(cell for cell in texts[len(header) :] if cell.strip())
            found.append(SongLine(begun, dict(zip(header, texts, strict=False)), extra))
        begun = getattr(reader, "line_num", begun) + 1
    return found
