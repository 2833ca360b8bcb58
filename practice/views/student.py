from django.http import HttpResponse


def student(request, **kwargs):
    return HttpResponse("not built yet")


def next_chords(request, **kwargs):
    return HttpResponse("not built yet")
