from django.http import HttpResponse


def goal_set(request, **kwargs):
    return HttpResponse("not built yet")


def preview(request, **kwargs):
    return HttpResponse("not built yet")


def act(request, **kwargs):
    return HttpResponse("not built yet")
