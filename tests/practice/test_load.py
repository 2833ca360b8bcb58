"""Practice load by day and week, the neutral notice of a bigger jump, barre minutes."""

import datetime as dt
import re
from pathlib import Path

import pytest

from practice import load
from studio import theory
from tests import factory
from tests.practice.plain import TODAY, ago, change, chord, entry, facts, goal

ROOT = Path(__file__).resolve().parents[2]
MONDAY = dt.date(2026, 11, 9)


def test_session_load_is_rating_times_minutes():
    assert load.session_load(entry(TODAY, 30, tiring=4)) == 120
    assert load.session_load(entry(TODAY, 30, tiring=0)) == 0
    assert load.session_load(entry(TODAY, 30, tiring=None)) is None


def test_daily_load_has_every_day_and_names_what_was_not_rated():
    entries = [entry(MONDAY, 30, 4), entry(MONDAY, 10, None), entry(MONDAY + dt.timedelta(days=2), 20, 5)]
    days = load.daily_load(entries, MONDAY, MONDAY + dt.timedelta(days=4))
    assert [(day.load, day.seconds, day.unrated) for day in days] == [
        (120, 2400, 600), (0, 0, 0), (100, 1200, 0), (0, 0, 0),
    ]  # fmt: skip


def test_weekly_load_has_every_week_and_says_which_are_finished():
    entries = [entry(ago(0), 30, 4), entry(ago(7), 10, 2), entry(ago(-1), 60, 9)]
    weeks = load.weekly_load(entries, TODAY, 3)
    assert [(week.load, week.finished) for week in weeks] == [(0, True), (20, True), (120, False)]


def test_days_without_spread_have_no_monotony():
    assert load.monotony([10] * 7) is None
    assert load.strain([0] * 7) is None


@pytest.mark.parametrize("count", [0, 6, 8])
def test_a_week_has_seven_days(count):
    with pytest.raises(ValueError, match=f"{count} daily loads"):
        load.monotony([1.0] * count)


def test_no_ratio_from_nothing():
    assert load.ewma_ratio([]) is None
    assert load.ewma_ratio([0, 0]) is None
    assert load.rolling_ratio([5] * 27) is None
    assert load.rolling_ratio([0] * 21 + [5] * 7, coupled=False) is None
    with pytest.raises(ValueError, match="days 0"):
        load.ewma([1], 0)


def test_monotony_and_strain_are_shown_nowhere():
    """They are computed for the published worked values alone (tests/outside/test_load.py)."""
    told = re.compile(r"monotony|\bstrain\b")
    found = {
        path.name
        for top in ("practice", "templates", "students", "studio")
        for path in (ROOT / top).rglob("*")
        if path.suffix in (".py", ".html", ".md", ".js", ".txt", ".typ") and told.search(path.read_text("utf-8"))
    }
    assert found == {"load.py"}


def weeks_of(*minutes: int, tiring: int = 3):
    """Entries on the Wednesdays of the finished weeks, the last one last week."""
    days = [MONDAY - dt.timedelta(weeks=back) + dt.timedelta(days=2) for back in range(len(minutes), 0, -1)]
    return [entry(day, spent, tiring) for day, spent in zip(days, minutes, strict=True) if spent]


# minutes of the four weeks before and of the last finished one; whether the notice comes
@pytest.mark.parametrize(
    ("minutes", "notice"),
    [
        ((60, 60, 60, 60, 90), False),  # 1.5 times is not over 1.5 times
        ((60, 60, 60, 60, 91), True),
        ((30, 30, 30, 30, 59), False),  # under an hour
        ((30, 30, 30, 30, 60), True),
        ((60, 60, 60, 0, 120), False),  # first week back after a week of nothing
        ((0, 60, 60, 60, 120), True),
        ((0, 0, 0, 0, 120), False),
        ((120, 120, 120, 120, 60), False),
    ],
)
def test_bigger_jump(minutes, notice):
    said = load.bigger_jump(weeks_of(*minutes), ago(400), TODAY)
    assert (said is not None) == notice


def test_no_jump_in_the_first_28_days():
    entries = weeks_of(60, 60, 60, 60, 200)
    last = MONDAY - dt.timedelta(weeks=1)
    assert load.bigger_jump(entries, last - dt.timedelta(days=27), TODAY) is None
    assert load.bigger_jump(entries, last - dt.timedelta(days=28), TODAY) is not None


def test_the_running_week_is_not_compared():
    entries = [*weeks_of(60, 60, 60, 60, 60), entry(TODAY, 400, 9)]
    assert load.bigger_jump(entries, ago(400), TODAY) is None


def test_barre_seconds_by_day_count_goals_with_a_barre():
    barre = goal(practised=((ago(2), 300), (ago(2), 60), (ago(9), 500)))
    plain = goal(code="goal-2", theory=chord("open-C", "C", 0), practised=((ago(2), 900),))
    found = load.barre_seconds(facts(goals=(barre, plain)), ago(3), ago(0))
    assert found == {ago(3): 0, ago(2): 360, ago(1): 0}


def test_a_partial_barre_is_no_barre():
    facts_ = facts(goals=(goal(theory=chord("A-major-partial", "D", 5), practised=((ago(2), 300),)),))
    assert sum(load.barre_seconds(facts_, ago(3), ago(0)).values()) == 0


def test_a_progression_counts_where_its_way_along_the_neck_has_a_barre():
    # G, Em, C, D in open chords needs no barre (common practice); the same in E- and A-shapes alone is all barres
    shapes = tuple(name for name, shape in theory.SHAPES.items() if shape.kind == "movable" and name[0] in "EA")
    terms = {"kind": "progression", "key": "G", "numerals": ("I", "vi", "IV", "V")}
    for over, seconds in (({"shapes": shapes}, 300), ({}, 0)):
        one = goal("tempo", 60, kind="progression", theory=theory.Goal(**terms, **over), practised=((ago(2), 300),))
        assert sum(load.barre_seconds(facts(goals=(one,)), ago(3), ago(0)).values()) == seconds


def test_either_end_of_a_change_counts_and_what_is_off_the_neck_does_not_hide_the_other():
    for other in (("E-minor", "B", 7), ("E-minor", "B", 19)):
        one = goal(kind="change", theory=change(other, ("A-major", "D", 5)), practised=((ago(2), 300),))
        assert sum(load.barre_seconds(facts(goals=(one,)), ago(3), ago(0)).values()) == 300


def test_minutes_that_nobody_rated_make_no_jump():
    # four weeks of an hour before a consent, then an hour that is rated: the same hour
    before = [entry(one.day, one.seconds / 60, None) for one in weeks_of(60, 60, 60, 60, 0)]
    last = weeks_of(0, 0, 0, 0, 60)
    assert load.bigger_jump([*before, *last], ago(400), TODAY) is None
    more = weeks_of(0, 0, 0, 0, 91)
    assert load.bigger_jump([*before, *more], ago(400), TODAY) is not None
    # a root drill beside the sessions carries no rating
    mixed = weeks_of(60, 60, 60, 60, 80)
    assert load.bigger_jump([*mixed, *[entry(one.day, 10, None, code="d") for one in mixed]], ago(400), TODAY) is None
    assert load.bigger_jump(weeks_of(60, 60, 60, 60, 200, tiring=0), ago(400), TODAY) is None


def test_a_steady_sunday_player_and_a_holiday_make_no_jump():
    """A steady Sunday-only player's daily ratio swings from 0.45 to 1.65 (derived): finished weeks do not swing."""
    sundays = [entry(MONDAY - dt.timedelta(days=1 + 7 * back), 90, 4) for back in range(20)]
    for later in range(7):
        assert load.bigger_jump(sundays, ago(400), MONDAY + dt.timedelta(days=later)) is None
    # three weeks away: the first week back says nothing, whatever it holds
    assert load.bigger_jump(weeks_of(60, 0, 0, 0, 300), ago(400), TODAY) is None


def test_weeks_begin_on_the_studios_day():
    """With weeks from Sunday, Sunday's minutes belong to the week that follows."""
    sunday = MONDAY - dt.timedelta(days=1)
    entries = [entry(sunday - dt.timedelta(weeks=back), 60, 3) for back in range(1, 6)]
    entries.append(entry(sunday, 400, 3, code="x"))
    assert load.bigger_jump(entries, ago(400), TODAY) is not None
    assert load.bigger_jump(entries, ago(400), TODAY, week_start=6) is None


def test_a_chord_off_this_neck_counts_as_none():
    facts_ = facts(goals=(goal(theory=chord("E-minor", "B", 19), practised=((ago(2), 300),)),))
    assert sum(load.barre_seconds(facts_, ago(3), ago(0)).values()) == 0


@pytest.mark.django_db
def test_the_teacher_sees_barre_minutes_by_day_and_a_neutral_notice(cast, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: factory.NOW)
    barre = factory.make_goal(cast.student)
    url = cast.student.get_absolute_url()
    quiet = cast.client("teacher").get(url).content.decode()
    assert "Minutes on barres" not in quiet
    assert "bigger jump" not in quiet
    # four weeks of an hour on the Wednesday, then three hours: practice load 4 x 60, and 4 x 180
    for weeks in range(1, 6):
        day = MONDAY - dt.timedelta(weeks=weeks) + dt.timedelta(days=2)
        minutes = 180 if weeks == 1 else 60
        factory.make_entry(cast.student, day=day, seconds=minutes * 60, tiring=4)
    factory.make_entry(cast.student, (barre, 300), day=ago(2), tiring=2)
    without = cast.client("teacher").get(url).content.decode()
    assert "bigger jump" not in without  # no consent: how tiring it was is not read
    factory.make_consent(cast.student)
    page = cast.client("teacher").get(url).content.decode()
    assert "Minutes on barres" in page
    assert '<th scope="row">Tue 10 Nov</th><td class="n">5</td>' in page
    assert '<th scope="row">Fri 6 Nov</th><td class="n">0</td>' in page
    assert "Thu 5 Nov</th>" not in page
    assert "3 times the mean of the four weeks" in page
    # the band is called contested where it is shown (Gabbett 2016, quoted; Impellizzeri et al. 2021, published)
    assert "contested (Gabbett 2016; Impellizzeri et al. 2021)" in page
    for word in ("risk", "injury", "danger"):
        assert word not in page
