from django.http import HttpResponse


def lesson(request, **kwargs):
    return HttpResponse("not built yet")
