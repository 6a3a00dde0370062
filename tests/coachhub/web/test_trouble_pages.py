"""When a form can't be taken or the site fails, a person reads a sentence with a next step."""

from __future__ import annotations

import pytest
from django.http import HttpRequest
from django.test import Client
from django.urls import reverse
from django.views.defaults import server_error

from tests.cast import make_cast

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


def test_a_form_without_its_token_is_not_sent_and_says_what_to_do() -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(make_cast().student)
    answer = client.post(reverse("account:me"), {"name": "Somebody Else"})
    assert answer.status_code == 403
    assert "This was not sent" in answer.content.decode()
    assert "load the page again" in answer.content.decode()


def test_a_fault_of_ours_is_a_page_that_needs_nothing_else() -> None:
    answer = server_error(HttpRequest())
    assert answer.status_code == 500
    assert "The fault is ours" in answer.content.decode()
    assert "{" not in answer.content.decode()
