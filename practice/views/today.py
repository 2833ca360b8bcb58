from django.http import HttpResponse


def today(request, **kwargs):
    return HttpResponse("not built yet")
