from django.http import HttpResponse

from students.viewer import Role, open_to


@open_to(Role.GUARDIAN)
def week(request, **kwargs):
    return HttpResponse("not built yet")


@open_to(Role.GUARDIAN)
def chart(request, **kwargs):
    return HttpResponse("not built yet")


@open_to(Role.GUARDIAN)
def log(request, **kwargs):
    return HttpResponse("not built yet")


@open_to(Role.GUARDIAN)
def tell(request, **kwargs):
    return HttpResponse("not built yet")
