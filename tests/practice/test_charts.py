"""The figures: true sentences, the numbers that were given, and SVG that the page's policy allows.

Sources: Content Security Policy Level 3 (inline style needs unsafe-inline); SVG 2, section 6.6 (presentation
attributes); WAI-ARIA (role img is named and described by what its ids lead to). Sizes: the project's own bar.
"""

import datetime as dt
import re
import subprocess
import sys
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice import charts
from practice.asked import Asked
from practice.chart_calendar import practice_calendar
from practice.chart_draw import Chart
from practice.chart_hand import barre_and_discomfort, practice_load
from practice.chart_neck import neck_map
from practice.chart_svg import STAND_IN, page_svg, tokens
from practice.facts import EntryFacts, GoalFacts, HandFacts, Mark, StudentFacts
from practice.load import ewma
from practice.measures import MEASURES
from practice.progress import WEEK, Week
from practice.trend import Trend, fit
from studio import theory
from tests import factory
from tests.practice import plain

TODAY = dt.date(2026, 11, 12)
MONDAY = dt.date(2026, 11, 9)
SVG = "{http://www.w3.org/2000/svg}"


def weeks_of(*minutes: int) -> list[Week]:
    """Weeks up to now, the last one unfinished."""
    last = len(minutes) - 1
    return [Week(MONDAY - (last - at) * WEEK, value * 60, min(value, 3), at < last) for at, value in enumerate(minutes)]


def entry(back: int, minutes: int = 20, tiring: int | None = None) -> EntryFacts:
    day = TODAY - dt.timedelta(days=back)
    begun = dt.datetime.combine(day, dt.time(17), tzinfo=dt.UTC)
    return EntryFacts(f"e{back}", day, begun, minutes * 60, tiring)


def barres_of(*minutes: int) -> dict[dt.date, int]:
    """Seconds on barres, all on the Mondays of the weeks up to now."""
    last = len(minutes) - 1
    return {MONDAY - (last - at) * WEEK: value * 60 for at, value in enumerate(minutes)}


def barre(notes: list[HandFacts], *minutes: int) -> Chart:
    return barre_and_discomfort(notes, barres_of(*minutes), TODAY, weeks=len(minutes))


def mark(back: int, value: float, check: bool = False, measure: str = "changes") -> Mark:
    day = TODAY - dt.timedelta(days=back)
    return Mark(day, dt.datetime.combine(day, dt.time(17), tzinfo=dt.UTC), measure, value, check)


def goal_of(*marks: Mark, measure: str = "changes", target: float = 36, title: str = "D to Bm") -> GoalFacts:
    return GoalFacts(
        code="g1",
        kind="piece",
        theory=theory.Goal(kind="piece", title=title),
        title=title,
        measure=MEASURES[measure],
        target=target,
        set_on=TODAY - dt.timedelta(days=90),
        due=TODAY,
        marks=marks,
    )


def note(back: int, discomfort: int) -> HandFacts:
    day = TODAY - dt.timedelta(days=back)
    return HandFacts(day, dt.datetime.combine(day, dt.time(17), tzinfo=dt.UTC), discomfort, "fretting", "wrist")


# (shape, root) and how far each is: secure, developing, introduced, review due
CHORDS = (("E-minor", "B"), ("A-minor", "D"), ("open-C", "C"), ("E-major", "F#"))


def chords_of(*chords: tuple[str, str], plays: str = "right", capo: int = 0) -> StudentFacts:
    """A student with one chord goal each, in the states of CHORDS in turn."""
    histories = (
        ((9, False), (2, True)),
        ((4, False),),
        (),
        ((80, False), (70, True)),
    )
    goals = []
    for number, (shape, root) in enumerate(chords or CHORDS):
        terms = theory.Goal(kind="chord", chords=(theory.ChordTerm(shape, root),))
        goals.append(
            replace(
                goal_of(*(mark(back, 6, check, "clean") for back, check in histories[number % 4]), measure="clean"),
                code=f"c{number}",
                kind="chord",
                theory=terms,
                target=4 if shape.startswith("A") else 5,
            )
        )
    instrument = theory.INSTRUMENTS["steel-string"].with_(plays=plays, capo=capo)
    return plain.facts(goals=tuple(goals), instrument=instrument)


def rests_of(*minutes: int) -> dict[dt.date, Asked]:
    """What the last finished weeks asked for, the last one last; the others asked for the plan."""
    starts = [MONDAY - back * WEEK for back in range(len(minutes), 0, -1)]
    return {start: Asked(part // 12, part, "hand") for start, part in zip(starts, minutes, strict=True)}


CHANGES = goal_of(mark(80, 18), mark(71, 21), mark(64, 20, True), mark(36, 25, True), mark(3, 31))
MANY = goal_of(*(mark(back, 20 + back % 7, back % 5 == 0) for back in range(181, -1, -1)))
EVERY = {
    "minutes": charts.minutes_by_week(weeks_of(38, 45, 0, 61, 214, 52), 60),
    "minutes-one-week": charts.minutes_by_week(weeks_of(5), 60),
    "minutes-no-plan": charts.minutes_by_week(weeks_of(5, 9), 0),
    "minutes-rest": charts.minutes_by_week(weeks_of(38, 45, 0, 61, 14, 5), 60, asked=rests_of(60, 0, 24)),
    "goal": charts.goal_over_time(CHANGES, TODAY),
    "goal-one-mark": charts.goal_over_time(goal_of(mark(0, 30)), TODAY),
    "goal-ceiling": charts.goal_over_time(goal_of(mark(9, 3, measure="clean"), measure="clean", target=6), TODAY),
    "goal-fewer": charts.goal_over_time(goal_of(mark(9, 60, measure="seconds"), measure="seconds"), TODAY),
    "goal-half-a-year-daily": charts.goal_over_time(MANY, TODAY),
    "goal-trend": charts.goal_over_time(CHANGES, TODAY, trend=fit(CHANGES.marks)),
    "goal-earlier-instrument": charts.goal_over_time(
        CHANGES, TODAY, instrument_since=TODAY - dt.timedelta(days=66), trend=fit(CHANGES.marks)
    ),
    "calendar": practice_calendar([entry(back, 5 * (back % 10 + 1)) for back in range(182)], TODAY, plan_days=5),
    "calendar-one-entry": practice_calendar([entry(0, 1)], TODAY, plan_days=5, since=TODAY),
    "calendar-a-few-weeks": practice_calendar([entry(0), entry(9, 45)], TODAY, plan_days=3, weeks=5, week_start=6),
    "calendar-rest": practice_calendar(
        [entry(0), entry(30, 45)], TODAY, plan_days=5, rest={TODAY - dt.timedelta(days=back) for back in range(3, 20)}
    ),
    "load": practice_load([entry(back, 30, back % 7) for back in range(0, 150, 2)], TODAY),
    "load-one-week": practice_load([entry(6, 30, 5)], TODAY),
    "barre": barre([note(41, 1), note(10, 5), note(1, 2)], 0, 3, 9, 24, 88, 21, 10),
    "barre-no-notes": barre([], 8, 10),
    "barre-no-barres": barre([note(1, 0)], 0, 0),
    "neck": neck_map(chords_of(), TODAY),
    "neck-left": neck_map(chords_of(plays="left"), TODAY),
    "neck-capo": neck_map(chords_of(capo=3), TODAY),
    "neck-crowded": neck_map(
        chords_of(*(("E-" + kind, "F") for kind in ("major", "minor", "7", "m7", "maj7", "sus4"))), TODAY
    ),
}


@pytest.mark.parametrize("chart", EVERY.values(), ids=EVERY)
def test_drawing_obeys_the_pages_policy(chart):
    root = ET.fromstring(chart.svg)
    for element in root.iter():
        assert "style" not in element.attrib
        assert not [name for name in element.attrib if name.startswith("on")]
        assert element.tag not in (SVG + "style", SVG + "script", SVG + "metadata")
    assert chart.svg.startswith("<svg ")
    assert "http" not in chart.svg.replace("http://www.w3.org/2000/svg", "")


@pytest.mark.parametrize("chart", EVERY.values(), ids=EVERY)
def test_drawing_is_named_described_and_sized_by_the_page(chart):
    root = ET.fromstring(chart.svg)
    assert root.get("role") == "img"
    assert root.get("viewBox", "").startswith("0 0 360 ")
    assert root.get("width") is None
    assert root.get("height") is None
    by_id = {element.get("id"): element for element in root.iter() if element.get("id")}
    assert by_id[root.get("aria-labelledby")].text == chart.title
    assert by_id[root.get("aria-describedby")].text == chart.sentence
    assert all(name.startswith(f"{chart.uid}-") for name in by_id)
    assert set(re.findall(r'(?:href="|url\()#([^")]+)', chart.svg)) <= set(by_id)


@pytest.mark.parametrize("chart", EVERY.values(), ids=EVERY)
def test_drawing_takes_its_colours_from_the_page(chart):
    assert not re.search(r"#[0-9a-f]{6}\b", chart.svg)
    used = set(re.findall(r"var\(--(\w+)\)", chart.svg))
    assert used
    assert used <= set(STAND_IN)
    # two hues at the most beside ink
    assert len(used - {"ink", "muted", "line", "hair", "paper", "surface"}) <= 2


@pytest.mark.parametrize("theme", ["light", "dark", "print"])
@pytest.mark.parametrize("chart", EVERY.values(), ids=EVERY)
def test_resolved_drawing_holds_the_tokens_values_and_nothing_else_differs(chart, theme):
    resolved = chart.print_svg(theme)
    assert "var(" not in resolved
    again = resolved.replace(' font-family="sans-serif"', "")
    expected = re.sub(r"var\(--(\w+)\)", lambda found: tokens(theme)[found.group(1)], chart.svg)
    assert again == expected


@pytest.mark.parametrize("chart", EVERY.values(), ids=EVERY)
def test_drawing_is_small(chart):
    assert len(chart.svg.encode()) < 15_000


@pytest.mark.parametrize("chart", EVERY.values(), ids=EVERY)
def test_labels_stay_inside_the_drawing(chart):
    """By a rough width of 6.8 units a letter at 12 units' size (system-ui, measured in Chromium)."""
    root = ET.fromstring(chart.svg)
    bottom = float(root.get("viewBox").split()[3])
    texts = list(root.iter(SVG + "text"))
    assert texts
    for text in texts:
        x, width = float(text.get("x")), 6.8 * len(text.text)
        start = x - {"start": 0, "middle": width / 2, "end": width}[text.get("text-anchor", "start")]
        assert start >= -6
        assert start + width <= 364
        assert 10 <= float(text.get("y")) <= bottom


def texts(chart: Chart) -> list[str]:
    return [element.text for element in ET.fromstring(chart.svg).iter(SVG + "text")]


# ---------------------------------------------------------------- minutes


def bar_heights(chart: Chart) -> dict[str, list[float]]:
    """Heights of the bars by colour, from the paths that begin and end on the base line."""
    found: dict[str, list[float]] = {}
    for path in ET.fromstring(chart.svg).iter(SVG + "path"):
        fill = path.get("fill", "")
        if fill.startswith("var("):
            for bar in re.findall(r"M [\d.]+ ([\d.]+) L [\d.]+ ([\d.]+) L", path.get("d")):
                found.setdefault(fill[6:-1], []).append(float(bar[0]) - float(bar[1]))
    return found


def test_bars_are_as_high_as_the_minutes_and_the_current_week_is_in_accent():
    bars = bar_heights(EVERY["minutes"])
    assert len(bars["line"]) == 4  # five finished weeks, one of them without practice
    assert len(bars["accent"]) == 1
    unit = bars["accent"][0] / 52
    assert bars["line"] == pytest.approx([unit * value for value in (38, 45, 61, 214)], abs=0.3)


def test_the_plan_is_a_dashed_line_with_its_name():
    assert EVERY["minutes"].svg.count("stroke-dasharray") == 1
    assert "plan 60" in texts(EVERY["minutes"])
    assert "52 so far" in texts(EVERY["minutes"])
    assert "stroke-dasharray" not in EVERY["minutes-no-plan"].svg


def test_months_stand_under_the_weeks_and_the_unit_in_words():
    assert [text for text in texts(EVERY["minutes"]) if text in ("Oct", "Nov")] == ["Oct", "Nov"]
    assert "minutes a week" in texts(EVERY["minutes"])


def test_minutes_table_has_the_same_numbers_newest_first():
    rows = EVERY["minutes"].rows
    assert [row[1] for row in rows] == ["52", "214", "61", "0", "45", "38"]
    assert rows[0][0] == "9 Nov"
    assert {row[3] for row in rows} == {"60"}


# minutes by week (the last one unfinished), plan, sentence
SAID = [
    ([0, 0, 0], 60, "Nothing is logged yet. The first entry draws the first bar."),
    ([70, 60, 59, 10], 60, "2 of the last 3 finished weeks reached the plan of 60 minutes. This week so far: 10 min."),
    ([70, 0], 60, "The first finished week reached the plan of 60 minutes. This week so far: 0 min."),
    ([41, 5], 60, "The first finished week brought 41 of the 60 minutes planned. This week so far: 5 min."),
    ([12], 60, "This week so far: 12 min."),
    (
        [70, 0, 0, 0],
        60,
        (
            "1 of the last 3 finished weeks reached the plan of 60 minutes."
            " Nothing was logged in the last 2 of them. This week so far: 0 min."
        ),
    ),
    ([70, 20], 0, "This week so far: 20 min."),
]


@pytest.mark.parametrize(("minutes", "plan", "sentence"), SAID)
def test_minutes_sentence(minutes, plan, sentence):
    assert charts.minutes_by_week(weeks_of(*minutes), plan).sentence == sentence


@given(st.lists(st.integers(0, 400), min_size=4, max_size=12), st.integers(5, 400))
def test_minutes_sentence_counts_right(minutes, plan):
    sentence = charts._minutes_sentence(weeks_of(*minutes), plan)
    if any(minutes):
        reached, count = map(int, re.match(r"(\d+) of the last (\d+) finished", sentence).groups())
        assert count == len(minutes) - 1
        assert reached == sum(value >= plan for value in minutes[:-1])
        assert f"so far: {minutes[-1]} min" in sentence


def test_a_week_looked_back_at_is_not_called_so_far():
    weeks = [replace(week, finished=True) for week in weeks_of(70, 20, 57)]
    chart = charts.minutes_by_week(weeks, 60)
    assert chart.sentence == (
        "1 of the last 3 finished weeks reached the plan of 60 minutes. The week of 9 Nov: 57 min."
    )
    assert "57 min" in texts(chart)
    assert len(bar_heights(chart)["accent"]) == 1


# minutes by week, what the last finished weeks asked for, the sentence; the plan's column, newest first
RESTED = [
    ((70, 60, 5, 20), (60, 60, 0), "2 of the last 2 finished weeks reached the plan of 60 minutes.", "60 – 60 60"),
    ((70, 25, 20, 20), (60, 24, 24), "2 of the last 3 finished weeks reached the plan of 60 minutes.", "60 24 24 60"),
    ((70, 0, 0, 0, 5), (0, 0, 0), "1 of the last 1 finished week reached the plan of 60 minutes.", "60 – – – 60"),
    ((5, 0, 9), (0, 0), "", "60 – –"),
]


@pytest.mark.parametrize(("minutes", "asked", "sentence", "plan"), RESTED)
def test_what_asked_for_nothing_counts_for_and_against_nobody(minutes, asked, sentence, plan):
    chart = charts.minutes_by_week(weeks_of(*minutes), 60, asked=rests_of(*asked))
    told = f"{sentence} Days of rest ask for nothing. This week so far: {minutes[-1]} min."
    assert chart.sentence == told.strip()
    assert " ".join(row[3] for row in chart.rows) == plan


def test_the_plans_line_stops_where_nothing_was_asked():
    def dashes(asked):
        return charts.minutes_by_week(weeks_of(70, 5, 70, 20), 60, asked=asked).svg.count("stroke-dasharray")

    assert dashes({}) == 1
    assert dashes(rests_of(60, 0, 60)) == 2
    assert dashes(rests_of(0, 0)) == 2
    assert dashes({**rests_of(0, 0, 0), MONDAY: Asked(0, 0, "hand")}) == 0
    now = charts.minutes_by_week(weeks_of(70, 20), 60, asked={MONDAY: Asked(0, 0, "hand")})
    assert "plan 60" not in texts(now)


def test_weeks_before_the_student_came_are_left_out():
    chart = charts.minutes_by_week(weeks_of(0, 0, 70, 80, 10), 60, since=MONDAY - dt.timedelta(days=9))
    assert [row[1] for row in chart.rows] == ["10", "80", "70"]
    assert chart.sentence.startswith("2 of the last 2 finished weeks")


def test_nothing_logged_draws_nothing():
    assert charts.minutes_by_week(weeks_of(0, 0), 60).svg == ""


# ---------------------------------------------------------------- a goal


def marks_drawn(svg: str) -> dict[str, int]:
    """How many marks are drawn, by what fills them."""
    count: dict[str, int] = {}

    def walk(element, fill):
        fill = element.get("fill", fill)
        if element.tag == SVG + "use":
            count[fill] = count.get(fill, 0) + 1
        for child in element:
            walk(child, fill)

    walk(ET.fromstring(svg), "")
    return count


def test_own_reports_are_rings_and_lesson_checks_solid_dots():
    assert marks_drawn(EVERY["goal"].svg) == {"var(--paper)": 3, "var(--accent)": 2}


def test_goal_labels_stand_beside_the_data():
    shown = texts(EVERY["goal"])
    assert {"target 36", "last 31", "18", "changes a minute", "24 Aug", "12 Nov"} <= set(shown)
    assert "seconds for all twelve, fewer is better" in texts(EVERY["goal-fewer"])


def test_goal_table_says_who_reported():
    assert EVERY["goal"].rows[0] == ("9 Nov", "31", "own report")
    assert EVERY["goal"].rows[1] == ("7 Oct", "25", "lesson check")


def test_a_long_history_is_cut_to_the_last_sixty_tries():
    assert len(EVERY["goal-half-a-year-daily"].rows) == charts.MOST_TRIES
    assert sum(marks_drawn(EVERY["goal-half-a-year-daily"].svg).values()) == charts.MOST_TRIES


# values and measure, target, sentence
GOAL_SAID = [
    ([], "changes", 36, "Not measured yet. The target is 36 / min."),
    ([(0, 30)], "changes", 36, "One measurement: 30 / min on 12 Nov. The target is 36 / min."),
    ([(0, 40)], "changes", 36, "One measurement: 40 / min on 12 Nov, which meets the target of 36 / min."),
    ([(9, 20), (1, 31)], "changes", 36, "From 20 / min on 3 Nov to 31 / min on 11 Nov. The target is 36 / min."),
    (
        [(9, 75), (1, 39)],
        "seconds",
        40,
        "From 75 s on 3 Nov to 39 s on 11 Nov, which meets the target of 40 s.",
    ),
    (
        [(9, 20), (5, 37), (1, 31)],
        "changes",
        36,
        "From 20 / min on 3 Nov to 31 / min on 11 Nov. The target of 36 / min was met before, not the last time.",
    ),
]


@pytest.mark.parametrize(("values", "measure", "target", "sentence"), GOAL_SAID)
def test_goal_sentence(values, measure, target, sentence):
    goal = goal_of(*(mark(back, value, measure=measure) for back, value in values), measure=measure, target=target)
    assert charts.goal_over_time(goal, TODAY).sentence == sentence


def test_a_goal_without_measurements_draws_nothing():
    assert charts.goal_over_time(goal_of(), TODAY).svg == ""


def test_a_hostile_title_stays_text():
    title = '</title><script>alert("x")</script> $\\frac{1}{2}$'
    chart = charts.goal_over_time(goal_of(mark(9, 20), mark(1, 31), title=title), TODAY)
    assert "<script" not in chart.svg
    assert ET.fromstring(chart.svg).find(SVG + "title").text == title


def test_ids_of_two_figures_never_meet():
    one = charts.goal_over_time(CHANGES, TODAY, uid="a")
    other = charts.goal_over_time(CHANGES, TODAY, uid="b")
    ids = [set(re.findall(r' id="([^"]+)"', chart.svg)) for chart in (one, other)]
    assert ids[0]
    assert not ids[0] & ids[1]


@pytest.mark.parametrize("uid", ["", "1a", 'a" onload="x', "a b"])
def test_a_bad_uid_is_refused(uid):
    with pytest.raises(ValueError, match="uid"):
        page_svg(EVERY["goal"].raw, uid, "t", "d")


# ---------------------------------------------------------------- the trend, and an earlier instrument


def test_the_trend_is_a_line_in_a_band_and_said_with_its_interval():
    """Theil-Sen on a straight line gives its slope, and an interval of no width (derived)."""
    straight = goal_of(*(mark(7 * back, 40 - 2 * back) for back in range(5, -1, -1)), target=60)
    chart = charts.goal_over_time(straight, TODAY, trend=fit(straight.marks))
    assert chart.sentence.endswith("The target is 60 / min. The trend rises by 2.0 a week, likely by 2.0 to 2.0.")
    assert "its band where it likely lies (90 %)" in chart.note
    assert "fill-opacity" in EVERY["goal-trend"].svg
    assert "fill-opacity" not in EVERY["goal"].svg


@pytest.mark.parametrize(
    ("slope", "low", "high", "said"),
    [
        (2.0, 1.0, 3.0, "The trend rises by 2.0 a week, likely by 1.0 to 3.0."),
        (-2.0, -3.0, -1.0, "The trend falls by 2.0 a week, likely by 1.0 to 3.0."),
        (0.2, -1.0, 1.0, "The trend points neither up nor down."),
    ],
)
def test_trend_sentence(slope, low, high, said):
    trend = Trend(TODAY, TODAY, slope, low, high, 30.0, 5, 5, 0.9, 0.0, 29.0, 31.0)
    assert charts.goal_over_time(CHANGES, TODAY, trend=trend).sentence.endswith(said)


def test_results_on_an_earlier_instrument_are_square_and_said_to_be():
    chart = EVERY["goal-earlier-instrument"]
    assert [row[2] for row in chart.rows] == [
        "own report",
        "lesson check",
        "lesson check",
        "own report, earlier instrument",
        "own report, earlier instrument",
    ]
    assert "Squares were measured on the earlier instrument, before 7 Sep." in chart.note
    assert "new instrument" in texts(chart)
    assert marks_drawn(chart.svg)["var(--paper)"] == 3
    assert {"var(--muted)", "var(--accent)"} <= set(re.findall(r"stroke=\"([^\"]+)\"", chart.svg))
    assert "new instrument" not in texts(EVERY["goal"])


def test_a_goal_left_for_a_year_says_when_it_was_measured_last():
    chart = charts.goal_over_time(goal_of(mark(370, 20), mark(365, 22)), TODAY)
    assert chart.svg == ""
    assert chart.sentence == (
        "Not measured in this time; the last time was 22 / min on 12 Nov 2025. The target is 36 / min."
    )


def test_a_term_begins_where_it_is_asked_to():
    chart = charts.goal_over_time(CHANGES, TODAY, start=TODAY - dt.timedelta(days=40))
    assert [row[0] for row in chart.rows] == ["9 Nov", "7 Oct"]


# ---------------------------------------------------------------- the calendar


def calendar(*entries: EntryFacts, **over) -> Chart:
    return practice_calendar(entries, TODAY, **({"plan_days": 3} | over))


def test_every_practised_day_is_one_head_and_its_minutes_stand_in_the_table():
    """Beside the heads of the days, one of each size stands at the foot."""
    chart = calendar(entry(0, 5), entry(0, 6), entry(1, 45), entry(10, 20))
    assert sum(marks_drawn(chart.svg).values()) == 3 + 4
    assert chart.rows[0] == ("9 Nov", "0", "0", "45", "11", "–", "–", "–", "2", "56")
    assert chart.rows[1][:7] == ("2 Nov", "20", "0", "0", "0", "0", "0")
    assert len(chart.rows) == 26


@given(st.dictionaries(st.integers(0, 181), st.integers(1, 300), min_size=1, max_size=40))
@pytest.mark.long
def test_the_calendar_counts_as_a_plain_sum_does(days):
    chart = calendar(*(entry(back, minutes) for back, minutes in days.items()))
    first = MONDAY - 25 * WEEK
    within = {back: minutes for back, minutes in days.items() if TODAY - dt.timedelta(days=back) >= first}
    assert sum(int(row[-2]) for row in chart.rows) == len(within)
    assert sum(int(row[-1].replace(",", "")) for row in chart.rows) == sum(within.values())
    assert f"Practised on {len(within)} of" in chart.sentence or not within


def test_a_week_with_the_planned_days_closes_with_a_double_bar():
    """The thick bars are the drawing's widest lines."""
    kept = calendar(*(entry(back) for back in (4, 5, 6)), weeks=3)
    missed = calendar(*(entry(back) for back in (4, 5)), weeks=3)
    assert kept.svg.count('stroke-width="2.6"') == 1
    assert missed.svg.count('stroke-width="2.6"') == 0
    assert "1 of 2 finished weeks had the planned 3 days." in kept.sentence
    assert "0 of 2 finished weeks had the planned 3 days." in missed.sentence


def test_days_of_rest_are_asked_for_nothing():
    rest = {TODAY - dt.timedelta(days=back) for back in range(6, 11)}  # 2 to 6 November
    kept = calendar(entry(4), entry(5), weeks=2, rest=rest)
    assert kept.svg.count('stroke-width="2.6"') == 1
    assert "1 of 1 finished week had the planned 3 days." in kept.sentence
    assert "Practised on 2 of 6 days, days of rest left out." in kept.sentence
    whole = {TODAY - dt.timedelta(days=back) for back in range(4, 11)}
    none = calendar(entry(14), weeks=3, rest=whole)
    assert "0 of 1 finished week had the planned 3 days." in none.sentence
    assert none.svg.count('stroke-width="2.6"') == 0
    # of the 14 days since, seven are left; with one more of rest six, which is not spoken of
    assert "Nothing since 29 Oct, 7 days." in none.sentence
    longer = {*whole, TODAY - dt.timedelta(days=3)}
    assert "Nothing since" not in calendar(entry(14), weeks=3, rest=longer).sentence
    assert "Nothing since 29 Oct, 14 days." in calendar(entry(14), weeks=3).sentence


CALENDAR_SAID = [
    # days back, with the studio since (days back), sentence
    ([], 20, "No practice is logged in these 4 weeks. The first entry puts the first head on its line."),
    ([0], 0, "Practised on 1 of 1 day."),
    (
        [30, 2],
        34,
        (
            "Practised on 2 of the last 35 days. 0 of 4 finished weeks had the planned 3 days."
            " The longest time without was 27 days, after 13 Oct."
        ),
    ),
    (
        [30, 29, 28],
        34,
        (
            "Practised on 3 of the last 35 days. 1 of 4 finished weeks had the planned 3 days."
            " Nothing since 15 Oct, 28 days."
        ),
    ),
]


@pytest.mark.parametrize(("back", "since", "said"), CALENDAR_SAID)
def test_calendar_sentence(back, since, said):
    chart = calendar(*(entry(days) for days in back), since=TODAY - dt.timedelta(days=since))
    assert chart.sentence == said
    assert bool(chart.svg) is bool(back)


def test_a_gap_of_a_year_draws_nothing():
    chart = calendar(entry(400), since=TODAY - dt.timedelta(days=500))
    assert chart.svg == ""
    assert chart.sentence.startswith("No practice is logged in these 26 weeks.")
    assert charts.minutes_by_week(weeks_of(0, 0), 60, since=TODAY - dt.timedelta(days=500)).sentence == (
        "Nothing is logged in these 2 weeks."
    )


def test_the_calendar_begins_with_the_studios_week():
    chart = calendar(entry(0), week_start=6)
    assert chart.columns[1] == "Sun"
    assert chart.rows[0][0] == "8 Nov"


# ---------------------------------------------------------------- the neck


def test_each_chord_is_a_mark_on_its_root_and_a_word_in_the_table():
    chart = EVERY["neck"]
    assert list(chart.rows) == [
        ("F#, E-shape at 2", "string 6, E", "2", "review due"),
        ("Bm, E-shape at 7", "string 6, E", "7", "secure"),
        ("C, open", "string 5, A", "3", "introduced"),
        ("Dm, A-shape at 5", "string 5, A", "5", "developing"),
    ]
    assert {"Bm", "Dm", "C", "F#", "secure", "developing", "introduced", "review due"} <= set(texts(chart))
    assert chart.sentence.startswith("4 chords on the neck: 1 secure, 1 review due, 1 developing, 1 introduced.")


def test_states_differ_by_form_and_not_by_colour_alone():
    """On paper every token is black or white; still no two of the four marks are drawn alike."""
    root = ET.fromstring(EVERY["neck"].print_svg())
    forms = set()
    for code in ("E-minor@B", "A-minor@D", "open-C@C", "E-major@F#"):
        shape, note = code.split("@")
        one = neck_map(chords_of((shape, note)), TODAY)
        assert one.svg
    marks = [element for element in root.iter(SVG + "path") if element.get("id")]
    for element in marks:
        forms.add(re.sub(r"[^A-Za-z]", "", element.get("d")))
    assert len(marks) >= 3
    assert len(forms) >= 2


def x_of(chart: Chart, label: str) -> float:
    return next(float(text.get("x")) for text in ET.fromstring(chart.svg).iter(SVG + "text") if text.text == label)


def test_a_left_handed_neck_is_mirrored():
    right, left = EVERY["neck"], EVERY["neck-left"]
    assert x_of(right, "Bm") > x_of(right, "Dm")
    for label in ("Bm", "Dm", "C", "12"):
        assert x_of(left, label) == pytest.approx(360 - x_of(right, label), abs=0.2)
    assert "left-handed" in left.note


def test_a_capo_is_said():
    assert "counted from the capo at fret 3" in EVERY["neck-capo"].note


def test_chords_on_one_root_share_the_place():
    chart = EVERY["neck-crowded"]
    assert len(chart.rows) == 6
    assert any(text.endswith(" +5") for text in texts(chart))


def test_a_student_without_chords_has_no_neck_yet():
    chart = neck_map(replace(chords_of(), goals=()), TODAY)
    assert chart.svg == ""
    assert chart.sentence.startswith("No chord has been set yet.")


# ---------------------------------------------------------------- load, and discomfort beside barres


def test_load_means_are_those_of_the_load_module():
    entries = [entry(back, 30, back % 7) for back in range(0, 150, 2)]
    days = [0.0] * 149
    for one in entries:
        days[148 - (TODAY - one.day).days] = one.tiring * 30
    chart = EVERY["load"]
    short, long = ewma(days, 7)[-1], ewma(days, 28)[-1]
    assert chart.rows[0][2:4] == (str(round(short)), str(round(long)))
    assert chart.sentence.startswith(
        f"Practice load is {round(short)} a day by its 7-day mean and {round(long)} by its 28-day mean."
    )
    assert len(chart.rows) == 12


def test_load_published_case():
    """21 days of 30, then 7 of 50: 47.33 and 37.87 (derived, by the formula of Williams et al. 2017)."""
    entries = [entry(back, 10, 5) if back < 7 else entry(back, 10, 3) for back in range(28)]
    assert practice_load(entries, TODAY).rows[0][2:4] == ("47", "38")


def test_load_says_what_was_not_rated_and_draws_nothing_of_nothing():
    chart = practice_load([entry(8, 30, 4), entry(1, 20)], TODAY)
    assert chart.sentence.endswith("Not rated: 20 of 50 minutes.")
    for entries in ([], [entry(1)], [entry(9, 20, 0), entry(1, 20, 0)]):
        empty = practice_load(entries, TODAY)
        assert empty.svg == ""
        assert "no practice load to draw" in empty.sentence


def test_a_figure_says_that_a_young_childs_numbers_stand_for_words():
    """2, 5 and 8 for "a little", "some", "a lot": derived (practice.handcheck)."""
    said = "A young child answers in three words, kept as 2, 5 and 8."
    rated = [entry(8, 30, 5), entry(1, 30, 2)]
    assert said not in practice_load(rated, TODAY).note
    assert said in practice_load([*rated, replace(entry(2, 30, 5), tiring_in_words=True)], TODAY).note
    asked = [plain.note(plain.ago(1), 5), plain.note(plain.ago(2), 5, in_words=True)]
    figures = [barre_and_discomfort(notes, {}, TODAY, weeks=2) for notes in (asked[:1], asked)]
    assert [said in figure.note for figure in figures] == [False, True]


def test_load_of_less_than_a_week_waits():
    chart = practice_load([entry(5, 30, 4), entry(1, 20, 3)], TODAY)
    assert chart.svg == ""
    assert chart.rows == ()
    assert chart.sentence == "How tiring practice was is noted since 7 Nov. A week of it gives the first mean."


def test_load_is_never_called_a_risk():
    for name in ("load", "barre"):
        assert "risk" not in (EVERY[name].sentence + EVERY[name].note).lower()
    assert "not validated" in EVERY["load"].note


BARRE_SAID = [
    ([], [0, 0], "No hand notes in 2 weeks. No minutes on barres were logged."),
    ([(1, 0)], [0, 0], "1 hand note in this time, without discomfort. No minutes on barres were logged."),
    ([(1, 3)], [0, 0], "1 hand note with discomfort: 3 of 10 on 11 Nov. No minutes on barres were logged."),
    ([], [9], "No hand note in 1 week. 9 minutes on barres so far this week."),
    (
        [(9, 5), (5, 0), (1, 2)],
        [80, 240, 100, 30],
        (
            "2 hand notes with discomfort, the highest 5 of 10 on 3 Nov."
            " Barres took 140 minutes a week on average; the most was 240 in the week of 26 Oct."
        ),
    ),
]


@pytest.mark.parametrize(("notes", "minutes", "sentence"), BARRE_SAID)
def test_barre_sentence(notes, minutes, sentence):
    assert barre([note(back, rating) for back, rating in notes], *minutes).sentence == sentence


def test_barre_table_counts_notes_by_week():
    rows = EVERY["barre"].rows
    assert rows[0] == ("9 Nov", "1", "2", "10")
    assert rows[1] == ("2 Nov", "1", "5", "21")
    assert rows[2] == ("26 Oct", "0", "–", "88")
    assert len(rows) == 7


def test_each_note_is_one_dot_and_the_highest_is_named():
    assert sum(marks_drawn(EVERY["barre"].svg).values()) == 3
    assert "5 on 2 Nov" in texts(EVERY["barre"])


def test_notes_and_barres_outside_the_weeks_are_left_out():
    chart = barre([note(300, 9)], 8, 10)
    assert chart.sentence.startswith("No hand notes")
    assert "9" not in {row[2] for row in chart.rows}
    assert barre_and_discomfort([], {TODAY + dt.timedelta(days=1): 600}, TODAY, weeks=2).svg == ""


# ---------------------------------------------------------------- how it is drawn


def test_the_same_numbers_give_the_same_drawing():
    assert charts.goal_over_time(CHANGES, TODAY).svg == EVERY["goal"].svg
    assert charts.goal_over_time(goal_of(mark(80, 18), mark(3, 32)), TODAY).svg != EVERY["goal"].svg


def test_no_complaint_about_fonts(caplog):
    charts.goal_over_time(CHANGES, TODAY)
    barre([note(1, 4)], 80, 100)
    assert not [record for record in caplog.records if record.name.startswith("matplotlib")]


def test_matplotlib_is_loaded_by_drawing_and_not_before():
    code = (
        "import os, sys; os.environ['DJANGO_SETTINGS_MODULE'] = 'studio.settings'\n"
        "import practice.charts\n"
        "assert not {'matplotlib', 'numpy', 'pandas'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


# ---------------------------------------------------------------- the page


@pytest.fixture
def fixed_today(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: factory.NOW)


def address(student) -> str:
    return f"/students/{student.code}/charts/"


def test_page_and_fragment(cast, fixed_today):
    goal = factory.make_goal(cast.student)
    factory.make_result(goal, 4)
    client = cast.client("teacher")
    whole = client.get(address(cast.student)).content.decode()
    part = client.get(address(cast.student), headers={"HX-Request": "true"}).content.decode()
    assert "<html" in whole
    assert "<html" not in part
    for html in (whole, part):
        assert "One measurement: 4 clean strings on 12 Nov." in html
        assert html.count('<figure class="chart">') == html.count("<svg") == 4
        assert "style=" not in html
    assert whole.count("<h1>") == 1
    assert part.count("The same numbers as a table") == 4


def test_page_of_a_student_with_nothing(cast, fixed_today):
    html = cast.client("teacher").get(address(cast.student)).content.decode()
    assert "No practice is logged in these 26 weeks." in html
    assert "Nothing is logged in these 12 weeks." in html
    assert "No chord has been set yet." in html


def test_a_new_entry_changes_the_chart(cast, fixed_today):
    client = cast.client("teacher")
    factory.make_entry(cast.student, seconds=1200)
    assert "This week so far: 20 min." in client.get(address(cast.student)).content.decode()
    factory.make_entry(cast.student, seconds=600, begun=factory.NOW - dt.timedelta(hours=5))
    assert "This week so far: 30 min." in client.get(address(cast.student)).content.decode()


def test_the_figures_mark_notes_and_name_nobody(cast, fixed_today):
    factory.make_consent(cast.child)
    factory.make_note(cast.child, 5)
    goal = factory.make_goal(cast.child)
    factory.make_entry(cast.child, (goal, 600), tiring=5)
    html = cast.client("teacher").get(address(cast.child)).content.decode()
    drawn = re.findall(r"<svg.*?</svg>", html, flags=re.S)
    assert any("5 on 12 Nov" in one for one in drawn)
    names = [*cast.child.name.split(), *cast.guardian.name.split(), *cast.teacher.name.split()]
    assert not [(name, one[:80]) for name in names for one in drawn if re.search(rf"\b{name}\b", one)]


def test_how_a_hand_felt_waits_behind_one_tap_beside_the_students_page(cast, htmx):
    """The next family may look over the shoulder; the charts' own page, which was asked for, shows it at once."""

    def tapped(page):
        return re.findall(r"<details><summary>Show: ([^<]+)</summary><?\s*<figure", page)

    factory.make_consent(cast.student)
    assert tapped(htmx().content.decode()) == []
    factory.make_note(cast.student, 6)
    assert tapped(htmx().content.decode()) == ["Discomfort and minutes on barres"]
    assert tapped(cast.client("teacher").get(address(cast.student)).content.decode()) == []


def test_hand_is_drawn_only_while_consent_stands(cast, fixed_today):
    factory.make_note(cast.child, 5)
    client = cast.client("teacher")
    assert "5 of 10" not in client.get(address(cast.child)).content.decode()
    consent = factory.make_consent(cast.child)
    assert "5 of 10" in client.get(address(cast.child)).content.decode()
    consent.withdrawn_at = factory.NOW
    consent.save()
    html = client.get(address(cast.child)).content.decode()
    assert "5 of 10" not in html
    assert "not kept without a consent" in html


@pytest.mark.parametrize(
    ("who", "status"), [("teacher", 200), ("owner", 200), ("other_teacher", 404), ("stranger", 404)]
)
def test_who_may_see_the_charts(cast, who, status):
    assert cast.client(who).get(address(cast.student)).status_code == status


@pytest.mark.parametrize("who", ["student", "guardian", "anonymous"])
def test_families_do_not_see_the_teachers_charts(cast, who):
    assert cast.client(who).get(address(cast.student)).status_code in (302, 404)


def test_charts_are_only_read(cast):
    assert cast.client("teacher").post(address(cast.student)).status_code == 405


@pytest.fixture
def htmx(cast, fixed_today):
    """htmx(etag) -> the fragment's answer, asked again with an ETag where one is given."""

    def ask(etag: str = ""):
        headers = {"HX-Request": "true"} | ({"If-None-Match": etag} if etag else {})
        return cast.client("teacher").get(address(cast.student), headers=headers)

    return ask


def test_a_repeat_is_answered_304_without_drawing(cast, htmx, monkeypatch):
    factory.make_result(factory.make_goal(cast.student), 4)
    first = htmx()
    assert first.status_code == 200
    assert "no-cache" in first.headers["Cache-Control"]
    assert "HX-Request" in first.headers["Vary"]
    assert b"<svg" in first.content
    monkeypatch.setattr("matplotlib.figure.Figure.savefig", lambda *_args, **_more: pytest.fail("drawn again"))
    again = htmx(first.headers["ETag"])
    assert again.status_code == 304
    assert again.content == b""


def test_a_students_repeat_is_answered_304_without_drawing(cast, fixed_today, monkeypatch):
    factory.make_result(factory.make_goal(cast.student), 4)
    path = f"/s/{cast.student.code}/progress/charts/"
    cast.client("student").get(path)  # sets the cookie of the page's form, which the ETag holds
    first = cast.client("student").get(path)
    assert b"<svg" in first.content
    monkeypatch.setattr("matplotlib.figure.Figure.savefig", lambda *_args, **_more: pytest.fail("drawn again"))
    again = cast.client("student").get(path, headers={"If-None-Match": first.headers["ETag"]})
    assert again.status_code == 304
    assert again.content == b""


def an_entry(cast, goal, result):
    factory.make_entry(cast.student, begun=factory.NOW - dt.timedelta(hours=4))


def an_entry_corrected(cast, goal, result):
    result.entry.seconds = 300
    result.entry.save()


def an_entry_erased(cast, goal, result):
    result.entry.delete()


def a_check(cast, goal, result):
    factory.make_result(goal, 5, lesson=factory.make_lesson(cast.student))


def a_result_corrected(cast, goal, result):
    result.value = 5
    result.save()


def a_raised_target(cast, goal, result):
    goal.target = 5
    goal.save()


def a_hand_note(cast, goal, result):
    factory.make_note(cast.student, 3)


def a_consent(cast, goal, result):
    factory.make_consent(cast.student)


def another_plan(cast, goal, result):
    cast.student.plan_days = 3
    cast.student.save()


def another_instrument(cast, goal, result):
    cast.student.capo = 2
    cast.student.save()


CHANGED = [an_entry, an_entry_corrected, an_entry_erased, a_check, a_result_corrected, a_raised_target]
CHANGED += [a_hand_note, a_consent, another_plan, another_instrument]


@pytest.mark.parametrize("change", CHANGED, ids=lambda change: change.__name__)
def test_any_change_is_seen_at_once(cast, htmx, change):
    goal = factory.make_goal(cast.student)
    result = factory.make_result(goal, 4)
    etag = htmx().headers["ETag"]
    assert htmx(etag).status_code == 304
    change(cast, goal, result)
    assert htmx(etag).status_code == 200


def test_the_next_day_is_drawn_anew(cast, htmx, monkeypatch):
    etag = htmx().headers["ETag"]
    monkeypatch.setattr("django.utils.timezone.now", lambda: factory.NOW + dt.timedelta(days=1))
    assert htmx(etag).status_code == 200


def test_page_and_fragment_are_not_mistaken_for_each_other(cast, htmx):
    etag = htmx().headers["ETag"]
    assert cast.client("teacher").get(address(cast.student), headers={"If-None-Match": etag}).status_code == 200


def test_queries_do_not_grow(cast, fixed_today, count_queries):
    goal = factory.make_goal(cast.student)
    factory.make_result(goal, 4)
    client = cast.client("teacher")
    few = count_queries(client, address(cast.student))
    for back in range(1, 8):
        factory.make_result(goal, 4, day=TODAY - dt.timedelta(days=back))
        factory.make_note(cast.student, 2, day=TODAY - dt.timedelta(days=back))
    factory.make_result(factory.make_goal(cast.student, terms=factory.chord_terms("A-minor", "D")), 4)
    assert count_queries(client, address(cast.student)) == few
    # session, user, teacher; student and 5 of the last change; student and student_facts' 6 to 7
    assert few <= 18
