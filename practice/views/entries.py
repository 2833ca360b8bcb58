from django.http import HttpResponse


def log(request, **kwargs):
    return HttpResponse("not built yet")


def entries(request, **kwargs):
    return HttpResponse("not built yet")
