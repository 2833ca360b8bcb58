"""Weekly sums against an independent query: 10,000 random entries in zones that change their clocks.

The query is SQL of its own (strftime on the local day, integer arithmetic), run by sqlite3 on a table of its own; the
local days come from zoneinfo, that is the IANA time zone database. The rule of the weeks, first day to first day,
half-open, is the project's.
"""

import datetime as dt
import random
import sqlite3
from zoneinfo import ZoneInfo

import pytest

from practice.facts import EntryFacts
from practice.progress import days_practised, minutes_between, weekly_minutes
from students.calendar import local_day, week_of

# clocks change in March and October, in March and November, in October and April the other way, by half an hour,
# and never
ZONES = ["Europe/London", "America/New_York", "Australia/Sydney", "Australia/Lord_Howe", "Asia/Kathmandu"]
COUNT = 2000  # in each of the five
TODAY = dt.date(2026, 11, 25)
WEEKS = 110


def drawn(zone, seed):
    """Entries over two years, thick about the hours at which clocks change and about midnight."""
    rng = random.Random(seed)
    first = dt.datetime(2024, 11, 20, tzinfo=dt.UTC)
    entries = []
    for number in range(COUNT):
        begun = first + dt.timedelta(seconds=rng.randrange(2 * 365 * 86400))
        if number % 3 == 0:  # near local midnight
            local = begun.astimezone(zone).replace(hour=23, minute=50, second=0, fold=rng.randrange(2))
            begun = local.astimezone(dt.UTC) + dt.timedelta(minutes=rng.randrange(20))
        entries.append(EntryFacts(str(number), local_day(begun, zone.key), begun, rng.randrange(1, 7200)))
    return entries


@pytest.mark.parametrize("name", ZONES)
@pytest.mark.parametrize("week_start", [0, 6])
def test_weeks_agree_with_sql(name, week_start):
    zone = ZoneInfo(name)
    entries = drawn(zone, seed=len(name) + week_start)
    table = sqlite3.connect(":memory:")
    table.execute("create table entry (day text, seconds integer)")
    rows = [(entry.begun.astimezone(zone).strftime("%Y-%m-%d"), entry.seconds) for entry in entries]
    table.executemany("insert into entry values (?, ?)", rows)
    # %w is 0 on Sundays; days since the week's first day are (%w - 1 - start) modulo 7
    asked = table.execute(
        """select date(day, '-' || ((strftime('%w', day) + 6 - :start) % 7) || ' days') as week,
                  sum(seconds), count(distinct day)
           from entry where day <= :today group by week""",
        {"start": week_start, "today": TODAY.isoformat()},
    )
    wanted = {dt.date.fromisoformat(week): (seconds, days) for week, seconds, days in asked}
    weeks = weekly_minutes(entries, TODAY, WEEKS, week_start)
    assert sum(seconds for seconds, _ in wanted.values()) == sum(e.seconds for e in entries if e.day <= TODAY)
    assert len(wanted) > 100
    assert {week.start: (week.seconds, week.days) for week in weeks if week.seconds} == wanted
    assert weeks[-1].start == week_of(TODAY, week_start)
    for week in weeks[:: len(weeks) // 9]:
        end = week.start + dt.timedelta(days=7)
        seconds, days = wanted.get(week.start, (0, 0))
        known = [entry for entry in entries if entry.day <= TODAY]
        assert minutes_between(known, week.start, end) == round(seconds / 60)
        assert days_practised(known, week.start) == days


@pytest.mark.parametrize("name", ZONES)
def test_local_days_agree_with_the_zone_database(name):
    zone = ZoneInfo(name)
    entries = drawn(zone, seed=7)
    assert all(entry.day.isoformat() == entry.begun.astimezone(zone).strftime("%Y-%m-%d") for entry in entries)
    # the draw reaches what it is for: an hour that passes twice, or a day of 23 or 25 hours, where there are any
    offsets = {entry.begun.astimezone(zone).utcoffset() for entry in entries}
    assert len(offsets) == (1 if name == "Asia/Kathmandu" else 2)
