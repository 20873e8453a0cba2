"""A list exchanged in place leaves the keyboard where it was, and says what it shows now."""

import re

import pytest

from tests import make

pytestmark = pytest.mark.django_db(transaction=True)
FOCUSED = "document.activeElement.id"
SAID = "document.getElementById('said').textContent"


@pytest.fixture
def systems():
    make.firm()
    return [make.system(name=f"Cabinet {number:02d}") for number in range(60)]


def test_sorting_keeps_the_keyboard_and_the_address(page, sign_in, systems):
    sign_in(page, make.manager())
    page.goto("/systems/")
    page.focus("#list-by-next_due_on")
    page.keyboard.press("Enter")
    page.wait_for_url("**/systems/?sort=next_due_on")
    page.wait_for_selector("th[aria-sort=ascending] #list-by-next_due_on")

    assert page.evaluate(FOCUSED) == "list-by-next_due_on"
    assert page.evaluate(SAID) == "1 to 50 of 60 rows"
    page.go_back()
    page.wait_for_selector("th[aria-sort=ascending] #list-by-place")


def test_narrowing_says_how_many_are_left(page, sign_in, systems):
    sign_in(page, make.manager())
    page.goto("/systems/")
    page.fill("input[name=text]", "Cabinet 07")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"text=Cabinet\+07|text=Cabinet%2007"))
    page.wait_for_function(f"{SAID} === '1 row'")

    assert page.locator("table.list tbody tr").count() == 1


def test_pages_of_a_list_work_without_script(new_page, sign_in, systems):
    page = new_page(java_script_enabled=False)
    sign_in(page, make.manager())
    page.goto("/systems/")
    page.click("nav.pages a[aria-label='Page 2']")

    assert page.locator("table.list tbody tr").count() == 10
    assert page.locator("nav.pages [aria-current=page]").inner_text() == "2"
