"""Pages that show people together with work: the teacher's, the student's (/s/) and the family's (/f/)."""

from django.urls import path

from practice.views import (
    charts,
    drill,
    entries,
    family,
    goals,
    hands,
    home,
    lesson,
    my_progress,
    performance,
    paper,
    practise,
    roster,
    student,
    sync,
    today,
)

app_name = "practice"

one = "students/<uuid:student>/"

urlpatterns = [
    path("", home.home, name="home"),
    path("today/", today.today, name="today"),
    path("roster/", roster.roster, name="roster"),
    path("roster.csv", roster.roster_csv, name="roster-csv"),
    path(one, student.student, name="student"),
    path(one + "next/", student.next_chords, name="next-chords"),
    path(one + "charts/", charts.charts, name="charts"),
    path(one + "log/", entries.log, name="log"),
    path(one + "entries/", entries.entries, name="entries"),
    path(one + "paper/", paper.paper, name="paper"),
    path(one + "sheet/", paper.sheet, name="sheet"),
    path(one + "hand/", hands.hand_notes, name="hand-notes"),
    path(one + "hand/<uuid:note>/close/", hands.close, name="hand-close"),
    path(one + "goals/set/", goals.goal_set, name="goal-set"),
    path(one + "goals/preview/", goals.preview, name="goal-preview"),
    path(one + "goals/<uuid:goal>/", goals.act, name="goal-act"),
    path(one + "lesson/", lesson.lesson, name="lesson"),
    path(one + "performances/", performance.performances, name="performances"),
    path(one + "performances/<uuid:performance>/", performance.performance, name="performance"),
    path(one + "performances/<uuid:performance>/due/", performance.due, name="performance-due"),
    path(one + "performances/<uuid:performance>/remove/", performance.remove, name="performance-remove"),
    path("s/<uuid:student>/", practise.page, name="s-page"),
    path("s/<uuid:student>/log/", practise.log, name="s-log"),
    path("s/<uuid:student>/tell/", practise.tell, name="s-tell"),
    path("s/<uuid:student>/entries/<uuid:entry>/", sync.entry, name="s-entry"),
    path("s/<uuid:student>/token/", sync.token, name="s-token"),
    path("s/worker.js", sync.worker, name="s-worker"),
    path("s/<uuid:student>/drill/<uuid:roots>/", drill.page, name="s-drill"),
    path("s/<uuid:student>/drill/<uuid:roots>/store/", drill.store, name="s-drill-store"),
    path("s/<uuid:student>/progress/", my_progress.page, name="s-progress"),
    path("s/<uuid:student>/progress/charts/", my_progress.charts, name="s-progress-charts"),
    path("f/<uuid:student>/", family.week, name="f-week"),
    path("f/<uuid:student>/chart/", family.chart, name="f-chart"),
    path("f/<uuid:student>/log/", family.log, name="f-log"),
    path("f/<uuid:student>/tell/", family.tell, name="f-tell"),
    path("f/<uuid:student>/paper/", paper.family_paper, name="f-paper"),
    path("f/<uuid:student>/sheet/", paper.family_sheet, name="f-sheet"),
]
