"""The command that queues and sends what is owed, for whoever has no job runner at hand."""

import json

import pytest
from django.core.management import CommandError, call_command

from servicedesk import tasks
from servicedesk.models import Message, Reminder
from tests import make
from tests.servicedesk.actions.outbox import owed_report

pytestmark = pytest.mark.django_db
AT = make.MORNING.isoformat()


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MAIL_FILES = tmp_path
    return tmp_path


def said(capsys, *arguments):
    call_command("send_reminders", "--json", *arguments)
    return json.loads(capsys.readouterr().out)


def test_dry_run_says_what_would_go_and_changes_nothing(capsys, folder):
    owed_report()

    counted = {"queued_lines": 0, "ready_mails": 1, "sent_mails": 0}
    assert said(capsys, "--dry-run", "--at", AT) == counted
    assert Message.objects.count() == 0
    assert list(folder.iterdir()) == []


def test_command_sends_what_is_owed_at_a_moment(capsys, folder):
    owed_report()

    assert said(capsys, "--at", AT) == {"queued_lines": 0, "sent_mails": 1}
    assert len(list(folder.iterdir())) == 1


@pytest.mark.parametrize("text", ["tomorrow", "2026-06-01", "2026-13-01T10:00+00:00"])
def test_moment_that_is_none_is_refused_with_a_sentence(text):
    with pytest.raises(CommandError, match="is not a moment with a zone") as refused:
        call_command("send_reminders", "--at", text)
    assert refused.value.returncode == 2


def test_job_sends_by_itself():
    owed_report()
    Reminder.objects.update(not_before=make.MORNING)
    tasks.queue_reminders()
    tasks.send_reminders()

    assert Message.objects.count() == 1
