"""A student's whole record as one file: a ZIP with a page to read first, everything as JSON, and a CSV for each table.

What goes in stands in practice.kept; a field that is missing there stays out. Hand values go in only under a standing
consent. One query for each table that has rows to give, however long the history; the tables are written one after the
other into a temporary file.
"""

import csv
import datetime as dt
import io
import json
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import IO, Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.apps import apps
from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from practice.hand_words import TICKED
from practice.kept import TABLES, Table, without_hand_cautions, without_hand_keys
from practice.models import Goal
from practice.tables import spreadsheet_safe
from students.models import Guardian, Student, Studio, Teacher, User
from studio import theory

# What a row of each file is.
ABOUT = {
    "student": gettext_lazy("the student: instrument, plan, lesson time, sign-in address"),
    "guardians": gettext_lazy("the guardians"),
    "consents": gettext_lazy("who agreed to hand notes, when, to which wording; withdrawn or not"),
    "lessons": gettext_lazy("the lessons, with the teacher's private words"),
    "goals": gettext_lazy("the goals that were set"),
    "entries": gettext_lazy("the sessions that were logged, with notes to the teacher"),
    "removed_entries": gettext_lazy("that a session was removed; nothing of what it said"),
    "segments": gettext_lazy("the part of a session spent on one goal"),
    "results": gettext_lazy("what was measured, at home or as a check in a lesson"),
    "hand_notes": gettext_lazy("how a hand felt, and what was done about it"),
    "hand_episodes": gettext_lazy("times in which the notes asked for a person, who was told"),
    "hand_returns": gettext_lazy("stepwise returns to playing"),
    "asked_for_a_word": gettext_lazy(
        "what the teacher was told about the hand without a value: a word was wanted, a wrong tap, a consent that ended"
    ),
    "declined": gettext_lazy("suggestions that the teacher declined, with private words"),
    "performances": gettext_lazy("days on which the student plays for others"),
    "term_reports": gettext_lazy("the teacher's words in term reports"),
}

# Fields that are lists of codes, and their words.
IN_LISTS = {("HandNote", "also"): TICKED}

# A file of this size is kept in memory, a larger one on disk, until it is sent.
IN_MEMORY = 2 * 1024 * 1024


@dataclass(frozen=True)
class Reader:
    """For whom the file is made. studio: a teacher or the owner, who also get what is others' own (a guardian's
    address); guardian: whose own address is theirs to read."""

    name: str
    studio: bool = False
    guardian: int | None = None


def tables_for(hand: bool) -> list[Table]:
    """The tables that are files; without consent none that is about a hand."""
    return [table for table in TABLES if table.file and (hand or not table.hand_rows)]


def columns_of(table: Table, hand: bool, reader: Reader) -> list[str]:
    """The fields of a table that its file holds, in the model's order."""
    names = {*table.plain, *(table.hand if hand else ())}
    if reader.studio or (reader.guardian is not None and table.of_others):
        names |= {*table.of_others}
    meta = apps.get_model(table.model)._meta
    return [one.name for one in (*meta.fields, *meta.many_to_many) if one.name in names]


def plain_value(value: Any, zone: ZoneInfo) -> Any:
    """A field's value as JSON has it: text, number, true, false, null, lists and objects of these. An instant stands in
    the studio's time with its offset."""
    if isinstance(value, dt.datetime):
        return value.astimezone(zone).isoformat()
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, Decimal):
        return float(value)
    return value


def told_of(model: type[models.Model]) -> str:
    """What tells a row that is pointed at: a person's or studio's name, an account's address, else the row's code."""
    return "email" if model is User else "name" if model in (Student, Guardian, Teacher, Studio) else "code"


def lists_of(rows: models.QuerySet, name: str) -> dict[int, list[str]]:
    """What the rows of a many-to-many field are, by the key of the row that holds them. One query."""
    told = f"{name}__{told_of(rows.model._meta.get_field(name).related_model)}"
    found: dict[int, list[str]] = {}
    for key, value in rows.filter(**{f"{name}__isnull": False}).order_by("pk", f"{name}__pk").values_list("pk", told):
        found.setdefault(key, []).append(str(value))
    return found


def rows_for(table: Table, student: Student, hand: bool, reader: Reader) -> Iterator[dict[str, Any]]:
    """The rows of one table as plain values, oldest first. One query, and one more for each list of rows in it.

    A field with choices, or a list of such codes, is given twice: as stored, and in words under "... in words".
    """
    model = apps.get_model(table.model)
    columns = columns_of(table, hand, reader)
    held = {name: model._meta.get_field(name) for name in columns}
    rows = model._base_manager.filter(**{table.path: student.pk}).order_by("pk")
    lists = {name: lists_of(rows, name) for name, one in held.items() if one.many_to_many}
    single = [name for name in columns if name not in lists]
    told = {name: held[name].related_model for name in single}
    lookups = [name if target is None else f"{name}__{told_of(target)}" for name, target in told.items()]
    words = {name: {key: str(told) for key, told in one.flatchoices} for name, one in held.items() if one.choices}
    zone = ZoneInfo(student.studio.zone)
    for key, *values in rows.values_list("pk", *lookups).iterator(chunk_size=1000):
        foreign = model is Guardian and reader.guardian is not None and key != reader.guardian
        line: dict[str, Any] = {}
        for name, value in zip(single, values, strict=True):
            if foreign and name in table.of_others:
                line[name] = None
                continue
            line[name] = value = _allowed(plain_value(value, zone), name, hand)
            if (model.__name__, name) in IN_LISTS:
                line[f"{name} in words"] = [str(IN_LISTS[model.__name__, name].get(one, one)) for one in value]
            elif name in words and value not in (None, ""):
                line[f"{name} in words"] = words[name].get(value, str(value))
        line |= {name: rows_of_it.get(key, []) for name, rows_of_it in lists.items()}
        if model is Goal:
            line["title"] = theory.Goal.from_terms(line["terms"]).title_text()
        yield line


def _allowed(value: Any, name: str, hand: bool) -> Any:
    """Without consent, a list or object without what tells of a hand in it."""
    if hand or not isinstance(value, list | dict):
        return value
    return without_hand_cautions(value) if name == "acknowledged" else without_hand_keys(value)


def heads_of(table: Table, hand: bool, reader: Reader) -> list[str]:
    """The heads of a table's CSV: the same names as in the JSON."""
    model, heads = apps.get_model(table.model), []
    for name in columns_of(table, hand, reader):
        heads.append(name)
        if model._meta.get_field(name).choices or (model.__name__, name) in IN_LISTS:
            heads.append(f"{name} in words")
    return [*heads, "title"] if table.model == "practice.Goal" else heads


def cell(value: Any) -> str:
    """A value as a cell of a CSV: lists and objects as JSON; text that a spreadsheet takes for a formula is quoted."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | dict):
        return json.dumps(value, ensure_ascii=False)
    return spreadsheet_safe(value) if isinstance(value, str) else str(value)


def write_record(student: Student, now: dt.datetime, hand: bool, reader: Reader) -> IO[bytes]:
    """The whole record in a temporary file, read from its start. student: with its studio; hand: whether a consent
    stands that counts."""
    file = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115 (the answer that sends it closes it)
    counts: list[tuple[Table, int]] = []
    with (
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed,
        tempfile.TemporaryFile("w+", encoding="utf-8", newline="\n") as whole,
    ):
        whole.write("{\n")
        for table in tables_for(hand):
            counts.append((table, _write_table(packed, whole, table, student, hand, reader, first=not counts)))
        whole.write("\n}\n")
        whole.seek(0)
        with packed.open("record.json", "w") as member:
            while part := whole.read(1 << 16):
                member.write(part.encode())
        packed.writestr("READ-ME.txt", read_me(student, now, hand, reader, counts))
    file.seek(0)
    return file


def _write_table(
    packed: zipfile.ZipFile, whole: IO[str], table: Table, student: Student, hand: bool, reader: Reader, first: bool
) -> int:
    count = 0
    heads = heads_of(table, hand, reader)
    before = "" if first else ",\n"
    whole.write(f"{before}{json.dumps(table.file)}: [")
    with packed.open(f"{table.file}.csv", "w") as member:
        # with a byte order mark, by which spreadsheets know UTF-8
        text = io.TextIOWrapper(member, "utf-8-sig", newline="")
        writer = csv.writer(text)
        writer.writerow(heads)
        for line in rows_for(table, student, hand, reader):
            writer.writerow([cell(line.get(head)) for head in heads])
            whole.write(f"{',' if count else ''}\n{json.dumps(line, ensure_ascii=False, indent=1)}")
            count += 1
        text.flush()
        text.detach()
    whole.write("]")
    return count


def read_me(
    student: Student, now: dt.datetime, hand: bool, reader: Reader, counts: list[tuple[Table, int]]
) -> str:
    """What the file is, in plain words."""
    day = now.astimezone(ZoneInfo(student.studio.zone))
    lines = [
        _("The record of %(student)s at %(studio)s") % {"student": student.name, "studio": student.studio.name},
        _("Made on %(day)s for %(reader)s.") % {"day": f"{day:%Y-%m-%d %H:%M}", "reader": reader.name},
        "",
        _("record.json holds everything. The .csv files hold the same, a table each, for a spreadsheet."),
        _("Times are the studio's. A code joins rows of two tables: a result names the code of its goal."),
        "",
        *(f"{table.file}.csv  ({count})  {ABOUT[table.file]}" for table, count in counts),
        "",
        _("Notes to the teacher are in it, a child's too: the page says so above the box in which they are written."),
        _("The teacher's private words on lessons are in it: the family may ask to see them, and here they are."),
    ]
    if hand:
        lines.append(_("How tiring sessions were and the hand notes are in it, because a consent stands."))
    else:
        lines.append(_("Nothing about the hand is in it: no consent stands. What was kept earlier can be erased."))
    if not reader.studio:
        lines.append(_("Left out: other guardians' addresses, which are their own."))
    lines += [
        _("Left out everywhere: PINs, passwords and what opens personal links, which are secrets."),
        _("Charts, states and summaries are not in it: Ledgerline computes them from these rows each time."),
        _("Something is wrong? Tell the teacher or the owner of the studio; they can correct it."),
        "",
    ]
    return "\n".join(lines)
