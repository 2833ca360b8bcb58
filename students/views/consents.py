from django.http import HttpResponse


def record(request, **kwargs):
    return HttpResponse("not built yet")


def withdraw(request, **kwargs):
    return HttpResponse("not built yet")


def own(request, **kwargs):
    return HttpResponse("not built yet")


def family(request, **kwargs):
    return HttpResponse("not built yet")
