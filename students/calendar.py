"""Days, weeks and lesson days, as plain values.

Conventions: weekdays are numbered as in `datetime.date.weekday`, Monday 0 to Sunday 6. A week is named by its
first day. Fortnightly lessons fall on every second occurrence of the weekday, counted from an anchor day.
"""

import datetime as dt
from collections.abc import Iterator
from zoneinfo import ZoneInfo


def local_day(instant: dt.datetime, zone: str) -> dt.date:
    """The calendar day of an aware instant in the studio's zone (an IANA name)."""
    return instant.astimezone(ZoneInfo(zone)).date()


def day_bounds(day: dt.date, zone: str) -> tuple[dt.datetime, dt.datetime]:
    """The half-open span of a local day as aware instants in UTC; 23 to 25 hours where clocks change."""
    tz = ZoneInfo(zone)
    begin = dt.datetime.combine(day, dt.time.min, tzinfo=tz)
    end = dt.datetime.combine(day + dt.timedelta(days=1), dt.time.min, tzinfo=tz)
    return begin.astimezone(dt.UTC), end.astimezone(dt.UTC)


def week_of(day: dt.date, week_start: int = 0) -> dt.date:
    """First day of the week that holds `day`, for weeks that begin on weekday `week_start`."""
    return day - dt.timedelta(days=(day.weekday() - week_start) % 7)


def is_lesson_day(day: dt.date, weekday: int | None, every: int = 1, anchor: dt.date | None = None) -> bool:
    """Whether a lesson falls on `day`: on its weekday, every `every` weeks (1 or 2) counted from `anchor`."""
    if weekday is None or day.weekday() != weekday:
        return False
    if every == 1 or anchor is None:
        return True
    return (week_of(day) - week_of(anchor)).days // 7 % every == 0


def lesson_days(
    start: dt.date, weekday: int | None, every: int = 1, anchor: dt.date | None = None
) -> Iterator[dt.date]:
    """Lesson days from `start` (included) on, without end; nothing when there is no weekday."""
    if weekday is None:
        return
    day = start + dt.timedelta(days=(weekday - start.weekday()) % 7)
    while not is_lesson_day(day, weekday, every, anchor):
        day += dt.timedelta(days=7)
    while True:
        yield day
        day += dt.timedelta(days=7 * every)


def next_lesson_day(
    after: dt.date, weekday: int | None, every: int = 1, anchor: dt.date | None = None
) -> dt.date | None:
    """The first lesson day later than `after`, or None for a student without a weekly slot."""
    return next(lesson_days(after + dt.timedelta(days=1), weekday, every, anchor), None)
