"""The wrist story: heard at once by mail, once per episode and once more whenever the answer becomes stricter, with no
value and no health word where others read."""

import datetime as dt
import io
import logging
import re
import signal
import uuid

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from practice import mailing
from practice.erase import erase_hand_values
from practice.handcare import episode_end
from practice.handrows import LEVELS
from practice.models import HandEpisode, HandNote, PracticeEntry
from students.links import sign
from tests import factory
from tests.factory import NOW, TODAY
from tests.practice.plain import ago, at, note

HEALTH = re.compile(r"\b(hand|wrist|pain|hurt|ache|health|discomfort|doctor|numb|weak)\w*", re.IGNORECASE)


class Clock:
    """What the time is for every page of a test."""

    def __init__(self):
        self.now = NOW

    def __call__(self):
        return self.now


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    here = Clock()
    monkeypatch.setattr(timezone, "now", here)
    return here


@pytest.fixture
def log(cast, clock, django_capture_on_commit_callbacks):
    """Logs ten minutes with a hand note through the student's page, and runs what waits for the commit."""

    def send(discomfort, student=None, who="student", url=None, **over):
        student = student or cast.student
        sent = {"code": str(uuid.uuid4()), "day": clock.now.date().isoformat(), "total": "10"}
        sent["discomfort"] = str(discomfort)
        if discomfort:
            sent |= {"hand": "fretting", "place": "wrist", "sensation": "ache", "settles": "hour"}
        with django_capture_on_commit_callbacks(execute=True):
            response = cast.client(who).post(url or f"/s/{student.code}/log/", sent | over)
        assert response.status_code == 302, response.context["form"].errors
        clock.now += dt.timedelta(minutes=15)

    return send


@pytest.fixture
def note_alone(cast, clock, django_capture_on_commit_callbacks):
    """Sends a hand note by itself, and runs what waits for the commit."""

    def send(discomfort, student=None, who="student", url=None, **over):
        student = student or cast.student
        sent = {"code": str(uuid.uuid4()), "day": clock.now.date().isoformat(), "discomfort": str(discomfort)}
        if discomfort:
            sent |= {"hand": "fretting", "place": "wrist", "sensation": "ache", "settles": "hour"}
        with django_capture_on_commit_callbacks(execute=True):
            response = cast.client(who).post(url or f"/s/{student.code}/hand/", sent | over)
        assert response.status_code == 302, response.context["form"].errors
        clock.now += dt.timedelta(minutes=15)

    return send


@pytest.fixture
def agreed(cast):
    factory.make_consent(cast.student)
    factory.make_consent(cast.child)


def test_the_wrist_story(cast, clock, log, agreed):
    """Two weeks of a rising wrist: nothing, ease off, pause and one mail, a doctor and one more; then rest, well again,
    closed."""
    page = f"/s/{cast.student.code}/"
    student, start = cast.client("student"), clock.now

    def level():
        return student.get(page).context["day"].hand.advice.level

    def on_day(number):
        clock.now = start + dt.timedelta(days=number)

    log(0)
    on_day(2)
    log(1)
    assert level() == "nothing"
    on_day(5)
    log(2)
    assert level() == "ease-off"
    assert not mail.outbox
    assert not HandEpisode.objects.exists()
    on_day(9)
    log(4)
    assert level() == "pause"
    (sent,) = mail.outbox
    assert sent.to == [cast.teacher.user.email]
    on_day(10)
    log(5)  # 4 or more on a second day: see someone, in the same episode, and the teacher hears that it is more
    assert level() == "see-someone"
    assert len(mail.outbox) == 2
    assert HandEpisode.objects.count() == 1
    on_day(12)
    log(1)
    on_day(15)
    log(1)
    assert HandEpisode.objects.get().closed_at is None  # 5 lies within these seven days
    on_day(18)
    log(0)
    assert HandEpisode.objects.get().closed_at is not None
    assert level() == "ease-off"  # 1 on two of the last seven days
    on_day(25)
    log(0)
    assert level() == "nothing"
    on_day(30)
    log(4)  # another episode, another mail
    assert HandEpisode.objects.count() == 2
    assert len(mail.outbox) == 3


def test_subject_and_body_give_nothing_away(cast, log, agreed):
    log(7, cast.child, who="guardian", url=f"/f/{cast.child.code}/log/", place="thumb", also=["numb"])
    to_teacher, to_guardian = mail.outbox
    assert to_teacher.to == [cast.teacher.user.email]
    assert to_guardian.to == [cast.guardian.email]
    for sent in mail.outbox:
        assert not HEALTH.search(sent.subject)
        assert "Kit" not in sent.subject
        assert "\n" not in sent.subject
        assert "hand note to look at" in sent.body
        without_links = re.sub(r"http\S+", "", sent.body)
        assert not re.search(r"\d|thumb|numb|wrist|strong", without_links)
    hands = reverse("practice:hand-notes", args=[cast.child.code])
    assert f"http://testserver{reverse('students:sign-in')}?next={hands}" in to_teacher.body
    assert f"http://testserver/open/{sign(cast.guardian.code, 1)}/" in to_guardian.body
    assert "/open/" not in to_teacher.body
    assert "doctor or hand therapist" in to_guardian.body
    # nothing is claimed that is not so, and nobody is told that this was the only mail
    assert "has been written to" not in to_guardian.body
    assert "one mail until" not in to_teacher.body + to_guardian.body


class Grudging:
    """A mail server that takes mails for some people only, and counts what it took."""

    def __init__(self, refuses):
        self.refuses, self.took = refuses, []

    def __call__(self, **_kwargs):
        return self

    def send_messages(self, mails):
        if mails[0].to[0] in self.refuses:
            raise OSError("451 not now")
        self.took += [mails[0].to[0]]


def command(*words):
    out = io.StringIO()
    call_command("send_pending_mail", *words, stdout=out)
    return out.getvalue()


ADDRESS = ("--address", "https://studio.example")


# what is said first and then: whether the answer has become stricter (practice.handrows.LEVELS), so that all hear again
@pytest.mark.parametrize(
    ("first", "then", "again"),
    [
        ({"discomfort": 4}, {"discomfort": 6}, False),  # pause, pause
        ({"discomfort": 5}, {"discomfort": 8}, True),  # pause, stop
        ({"discomfort": 7}, {"discomfort": 10}, False),  # stop, stop
        ({"discomfort": 7}, {"discomfort": 3}, False),  # stop, milder
        ({"discomfort": 8}, {"discomfort": 2, "also": ["hot"]}, True),  # stop, the same day
        ({"discomfort": 2, "also": ["fell"]}, {"discomfort": 2, "also": ["fell", "snap"]}, True),  # same day, hospital
        ({"discomfort": 1, "also": ["weak"], "face_arm_leg": "no"},
         {"discomfort": 1, "also": ["weak"], "face_arm_leg": "yes"}, True),  # see someone, emergency
    ],
)  # fmt: skip
def test_a_stricter_answer_writes_again_to_teacher_and_guardians_and_an_equal_one_to_nobody(
    cast, log, agreed, first, then, again
):
    log(**first, student=cast.child, who="child")
    told = {cast.teacher.user.email, cast.guardian.email}
    assert {one.to[0] for one in mail.outbox} == told
    bodies = [one.body for one in mail.outbox]
    log(**then, student=cast.child, who="child")
    assert HandEpisode.objects.count() == 1
    assert {one.to[0] for one in mail.outbox[2:]} == (told if again else set())
    # the second mail says no more than the first: no value, no level
    assert [one.body for one in mail.outbox[2:]] == (bodies if again else [])
    assert command(*ADDRESS) == "0 mails were sent.\n"


# each row that stops the day (practice.handrows), given by the child
@pytest.mark.parametrize(
    "said",
    [
        {"discomfort": 7},
        {"discomfort": 8, "place": "fingertip", "sensation": "sore"},
        {"discomfort": 0, "also": ["fell"]},
        {"discomfort": 0, "also": ["hot"]},
        {"discomfort": 0, "also": ["shape"]},
        {"discomfort": 1, "also": ["fell", "stuck"]},
        {"discomfort": 0, "also": ["numb"], "face_arm_leg": "yes"},
    ],
)
def test_a_minors_guardians_hear_at_once_of_what_stops_the_day(cast, note_alone, agreed, said):
    note_alone(**said, student=cast.child, who="child")
    assert [one.to for one in mail.outbox] == [[cast.teacher.user.email], [cast.guardian.email]]
    assert "Please read it now." in mail.outbox[1].body


def test_a_note_alone_is_heard_like_one_with_a_session(cast, note_alone, agreed):
    note_alone(6)
    assert not PracticeEntry.objects.exists()
    note_alone(6, cast.child, who="guardian", url=f"/f/{cast.child.code}/hand/")
    assert len(mail.outbox) == 3
    note_alone(9, who="teacher", url=reverse("practice:hand-note-add", args=[cast.student.code]))
    assert [one.to for one in mail.outbox[3:]] == [[cast.teacher.user.email]]  # from pause to stop
    note_alone(0)
    assert len(mail.outbox) == 4


def test_an_episode_told_before_its_strictness_was_kept_is_told_again_only_of_a_stop(cast, log, agreed):
    log(6)
    HandEpisode.objects.update(strictness=0)
    log(6)
    log(2, also=["itself"])  # see someone: what could be told then
    assert len(mail.outbox) == 1
    log(7)
    assert len(mail.outbox) == 2
    assert HandEpisode.objects.get().strictness == LEVELS.index("stop")


def test_a_stop_holds_its_episode_open_however_well_the_weeks_are(cast, clock, log, agreed):
    log(8)
    for _week in range(3):
        clock.now += dt.timedelta(days=4)
        log(0)
    assert HandEpisode.objects.get().closed_at is None


def test_a_stop_of_yesterday_that_is_noted_after_the_closing_is_heard(cast, clock, log, note_alone, agreed):
    log(6)
    close_episode(cast)
    mail.outbox.clear()
    clock.now += dt.timedelta(hours=1)
    note_alone(8, day=(TODAY - dt.timedelta(days=1)).isoformat())
    assert len(mail.outbox) == 1
    assert HandEpisode.objects.filter(closed_at=None).count() == 1


class Meanwhile(Grudging):
    """While it sends its first mail a stricter note comes through another process."""

    def __init__(self, student, refuses=frozenset()):
        super().__init__(refuses)
        self.student, self.hurt = student, False

    def send_messages(self, mails):
        if not self.hurt:
            self.hurt = True
            factory.make_note(self.student, 8, at=NOW + dt.timedelta(hours=1))
            mailing.hear(self.student, NOW + dt.timedelta(hours=1), lambda path: path)
        super().send_messages(mails)


def test_a_stricter_note_while_the_milder_ones_mails_are_sent_is_told_by_itself(cast, agreed, monkeypatch):
    factory.make_note(cast.child, 5)
    server = Meanwhile(cast.child)
    monkeypatch.setattr(mailing, "get_connection", server)
    mailing.hear(cast.child, NOW, lambda path: path)
    teacher, guardian = cast.teacher.user.email, cast.guardian.email
    # both of the stop; of the milder one only the mail that was on its way already
    assert server.took == [teacher, guardian, teacher]
    episode = HandEpisode.objects.get()
    assert episode.strictness == LEVELS.index("stop")
    assert episode.told == sorted([str(cast.teacher.code), str(cast.guardian.code)])
    assert None not in (episode.teacher_told_at, episode.guardians_told_at)
    assert episode.claimed_at is None


def test_a_milder_process_marks_nobody_as_told_of_the_stricter_answer(cast, agreed, monkeypatch):
    factory.make_note(cast.child, 5)
    server = Meanwhile(cast.child, {cast.guardian.email})
    monkeypatch.setattr(mailing, "get_connection", server)
    mailing.hear(cast.child, NOW, lambda path: path)
    episode = HandEpisode.objects.get()
    assert (episode.told, episode.guardians_told_at) == ([str(cast.teacher.code)], None)
    server.refuses = frozenset()
    assert command(*ADDRESS) == "1 mail was sent.\n"
    assert server.took[-1] == cast.guardian.email


def test_an_adults_guardian_is_not_written_to(cast, log, agreed):
    factory.make_guardian(cast.student, name="Pat Parent")
    log(5)
    assert [sent.to for sent in mail.outbox] == [[cast.teacher.user.email]]


def test_a_guardian_without_an_address_or_with_an_ended_link(cast, log, agreed):
    cast.guardian.link_expires = TODAY - dt.timedelta(days=1)
    cast.guardian.save()
    factory.make_guardian(cast.child, name="No Mail", email="")
    factory.make_consent(cast.child)
    log(5, cast.child, who="child")
    assert len(mail.outbox) == 2
    assert "/open/" not in mail.outbox[1].body
    assert "ask the studio for a new one" in mail.outbox[1].body


def hand_over(cast, student, teacher, django_capture_on_commit_callbacks):
    """The owner's form, with another teacher chosen."""
    url = f"/students/{student.code}/edit/"
    form = cast.client("owner").get(url).context["form"]
    data = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    del data["replace_links"]  # the phones go on with theirs
    with django_capture_on_commit_callbacks(execute=True):
        answer = cast.client("owner").post(url, data | {"lesson_time": "15:30", "teacher": str(teacher.code)})
    assert answer.status_code == 302, answer.context["form"].errors
    student.refresh_from_db()
    assert student.teacher == teacher


@pytest.fixture
def handed(cast, django_capture_on_commit_callbacks):
    return lambda student, teacher: hand_over(cast, student, teacher, django_capture_on_commit_callbacks)


def test_whoever_takes_a_student_over_is_written_to_once(cast, log, agreed, handed):
    log(6, cast.child, who="child")
    assert [one.to for one in mail.outbox] == [[cast.teacher.user.email], [cast.guardian.email]]
    handed(cast.child, cast.other_teacher)
    assert len(mail.outbox) == 3
    sent = mail.outbox[2]
    assert sent.to == [cast.other_teacher.user.email]
    assert sent.subject == mail.outbox[0].subject
    assert not HEALTH.search(sent.subject)
    assert reverse("practice:hand-notes", args=[cast.child.code]) in sent.body
    # neither another note nor the way back and forth writes to anybody again
    log(6, cast.child, who="child")
    handed(cast.child, cast.teacher)
    handed(cast.child, cast.other_teacher)
    assert command(*ADDRESS) == "0 mails were sent.\n"
    assert len(mail.outbox) == 3


def test_nobody_is_written_to_for_a_student_whose_hand_asks_for_nothing(cast, log, agreed, handed):
    log(3, cast.child, who="child")
    handed(cast.child, cast.other_teacher)
    log(6)
    close_episode(cast)
    mail.outbox.clear()
    handed(cast.student, cast.other_teacher)
    assert not mail.outbox


def test_no_teacher_hears_of_a_hand_without_a_consent_or_of_somebody_who_left(cast, log, agreed, handed):
    log(6)
    log(6, cast.child, who="child")
    mail.outbox.clear()
    cast.student.consents.update(withdrawn_at=NOW)
    handed(cast.student, cast.other_teacher)
    cast.child.status = "archived"
    cast.child.save()
    handed(cast.child, cast.other_teacher)
    assert not mail.outbox
    assert command(*ADDRESS) == "0 mails were sent.\n"


def test_a_new_teachers_mail_that_fails_is_sent_later_and_never_called_sent(cast, log, agreed, handed, monkeypatch):
    log(6)
    with monkeypatch.context() as down:
        down.setattr(mailing, "get_connection", NoServer)
        handed(cast.student, cast.other_teacher)
    assert len(mail.outbox) == 1
    page = reverse("practice:hand-notes", args=[cast.student.code])
    assert "The teacher was written to" not in cast.client("other_teacher").get(page).content.decode()
    assert command(*ADDRESS) == "1 mail was sent.\n"
    assert mail.outbox[1].to == [cast.other_teacher.user.email]
    assert "The teacher was written to" in cast.client("other_teacher").get(page).content.decode()


def test_a_milder_answer_and_no_consent_send_nothing(cast, log):
    log(3)  # no consent: the value is not even stored
    assert not HandNote.objects.exists()
    factory.make_consent(cast.student)
    log(3)
    assert HandNote.objects.count() == 1
    assert not mail.outbox
    assert not HandEpisode.objects.exists()


def test_the_phone_is_heard_too(cast, agreed, django_capture_on_commit_callbacks):
    hand = {"discomfort": 6, "hand": "fretting", "place": "wrist", "sensation": "ache"}
    body = {"day": TODAY.isoformat(), "seconds": 600, "hand": hand}
    address = f"/s/{cast.student.code}/entries/{uuid.uuid4()}/"
    for status in (201, 200):
        with django_capture_on_commit_callbacks(execute=True):
            answer = cast.client("student").put(address, body, content_type="application/json")
        assert answer.status_code == status
    assert len(mail.outbox) == 1


def test_paper_is_heard_too(cast, log, agreed):
    log(6, who="teacher", url=reverse("practice:log", args=[cast.student.code]))
    assert len(mail.outbox) == 1


class NoServer:
    """A mail server that refuses and names the address, as real ones do."""

    def __init__(self, **_kwargs):
        pass

    def send_messages(self, mails):
        raise OSError(f"550 no such user {mails[0].to}")


def test_a_mail_that_fails_breaks_nothing_and_is_sent_with_the_next_note(cast, log, agreed, monkeypatch, caplog):
    monkeypatch.setattr(mailing, "get_connection", NoServer)
    with caplog.at_level(logging.DEBUG):
        log(6)
    assert PracticeEntry.objects.count() == HandNote.objects.count() == 1
    assert HandEpisode.objects.get().teacher_told_at is None
    (record,) = [one for one in caplog.records if one.name == "practice.mailing"]
    for personal in (cast.teacher.user.email, cast.student.name, "550"):
        assert personal not in caplog.text
    assert record.exc_info is None
    monkeypatch.undo()
    # the clock went with it; the row stays untold until somebody looks again
    mailing.hear(cast.student, NOW + dt.timedelta(hours=1), lambda path: path)
    assert HandEpisode.objects.get().teacher_told_at is not None


def test_the_command_sends_what_did_not_go_out(cast, log, agreed, monkeypatch):
    with monkeypatch.context() as down:
        down.setattr(mailing, "get_connection", NoServer)
        log(6)
        assert not mail.outbox
        with pytest.raises(CommandError, match=r"0 mails were sent\. 1 could not be sent"):
            command(*ADDRESS)
    assert command(*ADDRESS) == "1 mail was sent.\n"
    assert "https://studio.example/sign-in/?next=/students/" in mail.outbox[0].body
    assert command(*ADDRESS) == "0 mails were sent.\n"
    assert len(mail.outbox) == 1


def test_one_guardians_failure_writes_to_nobody_twice(cast, log, agreed, monkeypatch):
    other = factory.make_guardian(cast.child, name="Ada Aunt")
    server = Grudging({other.email})
    monkeypatch.setattr(mailing, "get_connection", server)
    log(6, cast.child, who="child")
    assert HandEpisode.objects.get().guardians_told_at is None
    with pytest.raises(CommandError):
        command(*ADDRESS)
    log(6, cast.child, who="child")
    server.refuses = set()
    assert command(*ADDRESS) == "1 mail was sent.\n"
    assert sorted(server.took) == sorted([cast.teacher.user.email, cast.guardian.email, other.email])
    assert HandEpisode.objects.get().guardians_told_at is not None


def test_the_teachers_failure_makes_nobody_forget_a_guardian_who_was_reached(cast, log, agreed, monkeypatch):
    other = factory.make_guardian(cast.child, name="Ada Aunt")
    server = Grudging({other.email, cast.teacher.user.email})
    monkeypatch.setattr(mailing, "get_connection", server)
    log(6, cast.child, who="child")
    for _ in range(3):
        with pytest.raises(CommandError):
            command(*ADDRESS)
    assert server.took == [cast.guardian.email]
    server.refuses = {other.email}
    with pytest.raises(CommandError):
        command(*ADDRESS)
    server.refuses = set()
    assert command(*ADDRESS) == "1 mail was sent.\n"
    assert server.took == [cast.guardian.email, cast.teacher.user.email, other.email]
    assert command(*ADDRESS) == "0 mails were sent.\n"


def test_a_claim_that_a_power_cut_left_ends_after_a_quarter_of_an_hour(cast, clock, log, agreed, monkeypatch):
    with monkeypatch.context() as down:
        down.setattr(mailing, "get_connection", NoServer)
        log(6)
    HandEpisode.objects.update(claimed_at=clock.now)
    clock.now += dt.timedelta(minutes=14)
    assert command(*ADDRESS) == "0 mails were sent.\n"
    clock.now += dt.timedelta(minutes=1)
    assert command(*ADDRESS) == "1 mail was sent.\n"
    assert HandEpisode.objects.get().claimed_at is None


def test_sigterm_in_the_middle_gives_the_mail_back(cast, log, agreed, monkeypatch):
    """As a service manager or a machine that goes down ends a process: Python's own answer would leave no trace."""

    class Told(NoServer):
        def send_messages(self, mails):
            signal.raise_signal(signal.SIGTERM)

    with monkeypatch.context() as down:
        down.setattr(mailing, "get_connection", NoServer)
        log(6)
    before = signal.getsignal(signal.SIGTERM)
    monkeypatch.setattr(mailing, "get_connection", Told)
    # without the command's answer this process would end here: caught, so that the other tests go on
    signal.signal(signal.SIGTERM, lambda *_: None)
    try:
        with pytest.raises(SystemExit) as ended:
            command(*ADDRESS)
    finally:
        signal.signal(signal.SIGTERM, before)
    assert ended.value.code == 143  # 128 + 15: what shells say of a process ended by SIGTERM
    episode = HandEpisode.objects.get()
    assert (episode.claimed_at, episode.teacher_told_at) == (None, None)
    monkeypatch.setattr(mailing, "get_connection", Grudging(set()))
    assert command(*ADDRESS) == "1 mail was sent.\n"


@pytest.mark.parametrize("step", ["_episode", "_tell"])
def test_a_withdrawal_in_the_middle_opens_no_episode_and_sends_nothing(cast, agreed, monkeypatch, step):
    """The consent stood when the look began; it is withdrawn, and what was kept erased, before the next step."""
    factory.make_note(cast.student, 8, at=NOW, day=TODAY)
    real = getattr(mailing, step)

    def withdrawn_first(*args):
        cast.student.consents.update(withdrawn_at=NOW)
        if step == "_episode":
            erase_hand_values(cast.student)
        return real(*args)

    monkeypatch.setattr(mailing, step, withdrawn_first)
    mailing.hear(cast.student, NOW, lambda path: path)
    assert not mail.outbox
    assert HandEpisode.objects.count() == (step == "_tell")


def test_nobody_to_write_to_is_not_called_told(cast, log, agreed):
    cast.teacher.user.is_active = False
    cast.teacher.user.save()
    cast.child.guardians.update(email="")
    log(6, cast.child, who="child")
    episode = HandEpisode.objects.get()
    assert (episode.teacher_told_at, episode.guardians_told_at, mail.outbox) == (None, None, [])
    cast.child.guardians.update(email="late@family.example")
    assert command(*ADDRESS) == "1 mail was sent.\n"
    assert mail.outbox[0].to == ["late@family.example"]


def test_the_command_asks_for_no_more_than_it_may(cast, log, agreed, monkeypatch):
    """Withdrawn consent, a closed episode, somebody who left: nothing is sent any more."""
    with monkeypatch.context() as down:
        down.setattr(mailing, "get_connection", NoServer)
        log(6)
        log(6, cast.child, who="child")
    cast.student.consents.update(withdrawn_at=NOW)
    cast.child.status = "archived"
    cast.child.save()
    assert command(*ADDRESS) == "0 mails were sent.\n"


@pytest.mark.parametrize("text", ["studio.example", "ftp://x", "https://", "https://x/path", "https://[x", "https://x?y"])
def test_an_address_that_is_none(db, text):
    with pytest.raises(CommandError, match="without a path"):
        command("--address", text)


class InBetween(Grudging):
    """While it sends, another process looks at the same episode."""

    def send_messages(self, mails):
        if not self.took:
            self.took.append("begun")
            mailing.send_pending(NOW, lambda path: path)
        super().send_messages(mails)


def test_two_at_once_send_one_mail(cast, log, agreed, monkeypatch):
    """Whoever claims the column sends: another look in the middle of it, or with a row read before, sends nothing."""
    server = InBetween(set())
    monkeypatch.setattr(mailing, "get_connection", server)
    with monkeypatch.context() as down:
        down.setattr(mailing, "get_connection", NoServer)
        log(6)
    stale = [HandEpisode.objects.get() for _ in range(2)]
    for episode in stale:
        mailing._tell(episode, cast.student, TODAY, NOW, lambda path: path)
    assert server.took == ["begun", cast.teacher.user.email]


def test_a_process_ended_in_the_middle_leaves_the_mail_to_the_next(cast, log, agreed, monkeypatch):
    class Ended(NoServer):
        def send_messages(self, mails):
            raise SystemExit

    with monkeypatch.context() as ending:
        ending.setattr(mailing, "get_connection", Ended)
        with pytest.raises(SystemExit):
            log(6)
    assert HandEpisode.objects.get().teacher_told_at is None
    assert command(*ADDRESS) == "1 mail was sent.\n"


def test_what_is_felt_on_a_step_of_a_return_is_heard_however_little(cast, log, agreed):
    factory.make_return(cast.student)
    log(0)
    assert not HandEpisode.objects.exists()
    log(1)
    assert HandEpisode.objects.count() == len(mail.outbox) == 1
    log(1)
    assert HandEpisode.objects.count() == len(mail.outbox) == 1


def test_a_second_note_of_one_day_comes_after_the_first_whatever_place_its_session_gets(cast, clock, log, agreed):
    """A session of today without a time of day is placed before the one that is there; the hand was asked now."""
    log(5, total="30")
    log(1, total="30")
    first, second = HandNote.objects.order_by("pk")
    assert first.at < second.at
    assert cast.client("student").get(f"/s/{cast.student.code}/").context["day"].hand.advice.level != "pause"


def test_whatever_goes_wrong_the_entry_is_stored(cast, log, agreed, monkeypatch, caplog):
    def broken(*_args):
        raise RuntimeError("Robin Example")

    monkeypatch.setattr(mailing, "advice", broken)
    log(6)
    assert HandNote.objects.count() == 1
    assert "Robin" not in caplog.text
    assert "RuntimeError" in caplog.text


def close_episode(cast, words="Rested, strings lowered."):
    episode = HandEpisode.objects.get()
    sent = {"episode": str(episode.code), "episode-words": words}
    return cast.client("teacher").post(reverse("practice:hand-notes", args=[cast.student.code]), sent, follow=True)


def test_the_teacher_closes_it_with_what_was_done(cast, log, agreed):
    log(2)
    log(6)
    page = cast.client("teacher").get(reverse("practice:hand-notes", args=[cast.student.code])).content.decode()
    assert "the notes ask for a person" in page
    assert "The teacher was written to on 12 November" in page
    assert "closed" in close_episode(cast).content.decode()
    episode = HandEpisode.objects.get()
    assert episode.closed_words == "Rested, strings lowered."
    assert set(HandNote.objects.values_list("closed_words", flat=True)) == {"Rested, strings lowered."}
    assert not HandNote.objects.filter(seen_at=None).exists()
    log(1)
    assert HandEpisode.objects.count() == len(mail.outbox) == 1
    log(4)
    assert HandEpisode.objects.count() == len(mail.outbox) == 2


def test_closing_without_words_says_so_and_closes_nothing(cast, log, agreed):
    log(6)
    assert "Say in a few words" in close_episode(cast, " ").content.decode()
    assert HandEpisode.objects.get().closed_at is None


def test_an_episode_that_is_not_on_the_page_is_not_closed(cast, log, agreed):
    log(6)
    sent = {"episode": str(uuid.uuid4()), "episode-words": "x"}
    url = reverse("practice:hand-notes", args=[cast.student.code])
    assert "closed before" in cast.client("teacher").post(url, sent, follow=True).content.decode()
    assert cast.client("other_teacher").post(url, sent).status_code == 404
    assert HandEpisode.objects.get().closed_at is None


def test_closing_the_note_that_asks_for_a_person_closes_the_episode(cast, log, agreed):
    log(6)
    one = HandNote.objects.get()
    url = reverse("practice:hand-close", args=[cast.student.code, one.code])
    cast.client("teacher").post(url, {f"{one.code}-words": "String height lowered."})
    assert HandEpisode.objects.get().closed_words == "String height lowered."


# notes after an episode that was opened ten days ago, whether it is over, and with which note
@pytest.mark.parametrize(
    ("notes", "ended"),
    [
        ([], None),
        ([note(ago(4), 0)], None),  # one note is no proof
        ([note(ago(4), 0), note(ago(1), 1)], ago(1)),
        ([note(ago(9), 1), note(ago(5), 1), note(ago(1), 0)], ago(5)),
        ([note(ago(8), 2), note(ago(4), 0), note(ago(1), 1)], ago(1)),
        ([note(ago(4), 0), note(ago(1), 2)], None),  # the 2 lies in every seven days that hold two
        ([note(ago(4), 0), note(ago(1), 1, sensation="numb")], None),
        ([note(ago(4), 0), note(ago(2), 3, "fingertip", sensation="sore", settles="day"), note(ago(1), 1)], ago(1)),
        ([note(ago(4), 3, "fingertip", sensation="sore", settles="day"), note(ago(1), 1)], None),  # one that counts
        ([note(ago(4), 0), note(ago(3), 0, "thumb", sensation="weak"), note(ago(1), 1)], None),
        ([note(ago(10), 0), note(ago(10), 0, hour=19)], None),  # of the day itself: not after
        ([note(ago(9), 0), note(ago(2), 0)], None),  # never two within seven days
        ([note(ago(-1), 0), note(ago(-2), 0)], None),
    ],
)
def test_when_an_episode_ends_by_itself(notes, ended):
    found = episode_end(notes, ago(10), TODAY)
    assert found == (ended and at(ended, 18))


def test_not_before_seven_days():
    notes = [note(ago(5), 0), note(ago(4), 0)]
    assert episode_end(notes, ago(6), TODAY) is None
    assert episode_end(notes, ago(7), TODAY) == at(ago(4), 18)
