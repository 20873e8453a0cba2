"""Limits count by the address of whoever asks, also behind proxies, and believe no stranger."""

import pytest
from django.test import RequestFactory, override_settings
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.middleware import WhoAsks

OURS = "10.0.0.5"


def seen(rf, settings, proxies, header=None, remote=OURS):
    settings.PROXIES = proxies
    named = {} if header is None else {"X-Forwarded-For": header}
    request = rf.get("/", REMOTE_ADDR=remote, headers=named)
    WhoAsks(lambda request: None)(request)
    return request.META["REMOTE_ADDR"]


def test_without_a_proxy_the_header_is_not_believed(rf, settings):
    assert seen(rf, settings, 0, "198.51.100.7") == OURS


@pytest.mark.parametrize(
    ("proxies", "header", "address"),
    [
        (1, "198.51.100.7", "198.51.100.7"),
        (1, "203.0.113.9, 198.51.100.7", "198.51.100.7"),  # the first was written by a stranger
        (2, "203.0.113.9, 198.51.100.7, 10.0.0.4", "198.51.100.7"),
        (1, "2001:db8::7", "2001:db8::7"),
        (1, "[2001:DB8::7]:4711", "2001:db8::7"),
        (1, "198.51.100.7:4711", "198.51.100.7"),
    ],
)
def test_address_is_the_one_that_the_outermost_proxy_of_ours_saw(
    rf, settings, proxies, header, address
):
    assert seen(rf, settings, proxies, header) == address


@pytest.mark.parametrize("header", [None, "", "unknown", "198.51.100.7.1", "198.51.100.7"])
def test_header_that_says_less_than_all_our_proxies_leaves_the_address_of_the_last(
    rf, settings, header
):
    assert seen(rf, settings, 2, header) == OURS


@given(claimed=st.lists(st.text("0123456789abcdef.:, ", max_size=20), max_size=4))
def test_nothing_that_a_stranger_writes_changes_whose_address_counts(claimed):

    header = ",".join([*claimed, "198.51.100.7"])
    with override_settings(PROXIES=1):
        request = RequestFactory().get("/", headers={"X-Forwarded-For": header})
        WhoAsks(lambda request: None)(request)

    assert request.META["REMOTE_ADDR"] == "198.51.100.7"
