from django.http import HttpResponse


def hand_notes(request, **kwargs):
    return HttpResponse("not built yet")


def close(request, **kwargs):
    return HttpResponse("not built yet")
