"""How long a record is kept after a student has left, as a rule on plain values.

Never for ever: a written period after leaving, then erased (16 CFR 312.10 for children's data; here for everybody).
"""

import calendar
import datetime as dt


def months_after(day: dt.date, months: int) -> dt.date:
    """The same day of the month so many months later, or the month's last day where it is shorter.

    months: 0 or more.
    >>> months_after(dt.date(2026, 1, 31), 1)
    datetime.date(2026, 2, 28)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    month += 1
    return dt.date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def erased_on(left_on: dt.date, months: int) -> dt.date:
    """The first day on which the record of a student who left on `left_on` may be erased."""
    return months_after(left_on, months)


def latest_leaving(today: dt.date, months: int) -> dt.date:
    """Whoever left on this day or before is to be erased today: the inverse of `erased_on`.

    erased_on(latest_leaving(t, m), m) <= t < erased_on(latest_leaving(t, m) + one day, m) for every day t.
    """
    year, month = divmod(today.year * 12 + today.month - 1 - months, 12)
    month += 1
    length = calendar.monthrange(year, month)[1]
    this = calendar.monthrange(today.year, today.month)[1]
    # at the end of a month every later day of a longer month comes to rest on it
    return dt.date(year, month, length if today.day == this else min(today.day, length))
