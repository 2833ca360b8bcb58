from django.http import HttpResponse


def roster(request, **kwargs):
    return HttpResponse("not built yet")


def roster_csv(request, **kwargs):
    return HttpResponse("not built yet")
