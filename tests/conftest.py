"""What every test may use: a cast of people of one studio and a stranger's, and a counter of queries."""

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings
from xdist.scheduler import LoadScopeScheduling

from students.links import sign
from students.models import Guardian, Student, Studio, Teacher
from tests import factory

# On two shared cores the time of one example says nothing. In CI the same examples are drawn every time, so
# that a red is the change's and not the draw's; on a developer's machine new ones look further.
_slow = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
hypothesis_settings.register_profile("here", **_slow)
hypothesis_settings.register_profile("run", derandomize=True, database=None, print_blob=True, **_slow)
hypothesis_settings.load_profile("run" if os.environ.get("CI") == "true" else "here")


class BrowserOnOneWorker(LoadScopeScheduling):
    """Spreads tests one by one, and keeps the browser's together: they share one server and one browser.

    Not `--dist loadgroup`: xdist 3.8 writes the group into a node id that pytest 9.2 no longer reads.
    """

    def _split_scope(self, nodeid: str) -> str:
        return "browser" if nodeid.startswith("tests/browser/") else nodeid


def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> LoadScopeScheduling:
    return BrowserOnOneWorker(config, log)


def pytest_xdist_auto_num_workers() -> int:
    """One process per core and one more: the browser's worker mostly waits for what it started."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leaves what is marked `long` out of the whole run on a laptop; CI runs it, and so does naming its path."""
    # not `config.args_source`: a worker of xdist is given the paths that its controller read from pyproject.toml
    whole = [Path(name).resolve() for name in config.args] == [Path(__file__).parent]
    if whole and os.environ.get("CI") != "true":
        left = [item for item in items if item.get_closest_marker("long")]
        config.hook.pytest_deselected(items=left)
        items[:] = [item for item in items if item not in left]


@pytest.fixture(scope="session")
def rounds() -> Callable[[int], int]:
    """rounds(full) -> how many of `full` rounds a soak test makes: all, or the share that ROUNDS names.

    `.ci/run` sets ROUNDS=0.1; never less than one round.
    """
    share = float(os.environ.get("ROUNDS", "1"))
    return lambda full: max(1, round(full * share))


@pytest.fixture(autouse=True)
def _quick_and_quiet(settings):
    """A cheap hasher, mails kept in the outbox, no lockout but where a test asks for it, and no walk through all
    static files for each new client."""
    settings.WHITENOISE_USE_FINDERS = False
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.AXES_ENABLED = False


@dataclass
class Cast:
    """One studio. The owner sees both teachers' students; `teacher` sees student and child, `other_teacher`
    sees other_student; `guardian` sees child alone, `other_guardian` other_student alone; `stranger` owns
    another studio with `far_student` in it."""

    studio: Studio
    owner: Teacher
    teacher: Teacher
    other_teacher: Teacher
    stranger: Teacher
    student: Student
    child: Student
    other_student: Student
    far_student: Student
    guardian: Guardian
    other_guardian: Guardian
    _clients: dict[str, Client] = field(default_factory=dict)

    def client(self, who: str) -> Client:
        """A client that is signed in (teachers) or has opened the personal link (students, guardians)."""
        if who not in self._clients:
            client = Client()
            if who != "anonymous":
                person = getattr(self, who)
                if isinstance(person, Teacher):
                    client.force_login(person.user, "django.contrib.auth.backends.ModelBackend")
                else:
                    client.get(f"/open/{sign(person.code, person.link_version)}/")
            self._clients[who] = client
        return self._clients[who]


@pytest.fixture
def cast(db) -> Cast:
    studio = factory.make_studio()
    teacher = factory.make_teacher(studio=studio, name="Ada Teacher")
    other_teacher = factory.make_teacher(studio=studio, name="Bo Teacher")
    stranger = factory.make_teacher(name="Far Owner", is_owner=True)
    child = factory.make_student(
        teacher=teacher, name="Kit Child", birth_year=2016, instrument="three-quarter"
    )
    other_student = factory.make_student(teacher=other_teacher, name="Toni Other", birth_year=2010)
    return Cast(
        studio=studio,
        owner=factory.make_teacher(studio=studio, name="Oona Owner", is_owner=True),
        teacher=teacher,
        other_teacher=other_teacher,
        stranger=stranger,
        student=factory.make_student(teacher=teacher, name="Robin Example"),
        child=child,
        other_student=other_student,
        far_student=factory.make_student(teacher=stranger, name="Far Student"),
        guardian=factory.make_guardian(child, name="Gil Guardian"),
        other_guardian=factory.make_guardian(other_student, name="Noa Guardian"),
    )


@pytest.fixture
def count_queries():
    """count_queries(client, url) -> how many queries a GET of the page makes; the page must answer 200."""

    def count(client: Client, url: str, **headers) -> int:
        with CaptureQueriesContext(connection) as captured:
            response = client.get(url, **headers)
        assert response.status_code == 200, response
        return len(captured)

    return count
