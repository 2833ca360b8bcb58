from django.http import HttpResponse


def charts(request, **kwargs):
    return HttpResponse("not built yet")
