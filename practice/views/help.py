"""How everything is computed, for teachers: each rule as the sentence that its module states."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from practice import plateau, progress, stage, trend
from practice.views.next import TERM_WORDS
from practice.words import say


@require_safe
def help_page(request: HttpRequest) -> HttpResponse:
    context = {
        "nav": "help",
        "state_rule": say(progress.RULE),
        "trend_rule": say(trend.RULE),
        "plateau_rule": say(plateau.RULE),
        "stage_rule": say(stage.RULE),
        "instrument_rule": say(trend.INSTRUMENT_RULE),
        "terms": [str(words) for words in TERM_WORDS.values()],
    }
    return render(request, "practice/help.html", context)
