from django.http import HttpResponse

from students.viewer import Role, open_to


@open_to(Role.STUDENT)
def page(request, **kwargs):
    return HttpResponse("not built yet")


@open_to(Role.STUDENT)
def log(request, **kwargs):
    return HttpResponse("not built yet")


@open_to(Role.STUDENT)
def tell(request, **kwargs):
    return HttpResponse("not built yet")
