from django.http import HttpResponse


def student_add(request, **kwargs):
    return HttpResponse("not built yet")


def student_edit(request, **kwargs):
    return HttpResponse("not built yet")


def student_status(request, **kwargs):
    return HttpResponse("not built yet")


def people(request, **kwargs):
    return HttpResponse("not built yet")


def replace_link(request, **kwargs):
    return HttpResponse("not built yet")


def guardian_add(request, **kwargs):
    return HttpResponse("not built yet")


def guardian_edit(request, **kwargs):
    return HttpResponse("not built yet")


def guardian_remove(request, **kwargs):
    return HttpResponse("not built yet")


def guardian_replace_link(request, **kwargs):
    return HttpResponse("not built yet")
