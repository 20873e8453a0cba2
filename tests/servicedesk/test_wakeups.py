from django.db import transaction

from servicedesk.wakeups import wake


def test_wake_waits_for_the_commit(db, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks() as calls, transaction.atomic():
        wake("servicedesk.tasks.beat")

    assert len(calls) == 1


def test_work_that_is_rolled_back_wakes_nobody(db, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks() as calls, transaction.atomic():
        wake("servicedesk.tasks.beat")
        transaction.set_rollback(True)

    assert calls == []
