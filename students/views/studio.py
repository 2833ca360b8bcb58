from django.http import HttpResponse


def settings_page(request, **kwargs):
    return HttpResponse("not built yet")


def teacher_add(request, **kwargs):
    return HttpResponse("not built yet")


def teacher_edit(request, **kwargs):
    return HttpResponse("not built yet")
