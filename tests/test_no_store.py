"""No page, part, download or calendar stays in a browser; the look of the house may."""

import pytest
from django.urls import reverse

from tests.house import rows_at
from tests.routes.test_permissions import TABLE, address

pytestmark = pytest.mark.django_db


def test_every_answer_is_kept_nowhere(client, people, site):
    rows, kept = rows_at(site), []
    for name, (method, _, allowed) in TABLE.items():
        client.force_login(people[sorted(allowed)[0]])
        answer = getattr(client, method)(address(name, rows))
        if "no-store" not in answer.headers.get("Cache-Control", ""):
            kept.append((name, answer.status_code))
    assert kept == []


def test_refusals_and_forms_sent_by_script_are_kept_nowhere(client, people):
    client.force_login(people["floor"])
    refused = client.get(reverse("staff:settings"))
    missing = client.get("/patients/987654321/")
    moved = client.post(reverse("staff:choose-site"), headers={"x-kept": "1"})
    assert [refused.status_code, missing.status_code] == [403, 404]
    for answer in (refused, missing, moved):
        assert "no-store" in answer["Cache-Control"]


def test_static_files_are_kept(client):
    answer = client.get("/static/look.css")
    assert answer.status_code == 200
    assert "no-store" not in answer.headers.get("Cache-Control", "")


def test_sign_out_clears_cache_and_storage(client, people):
    client.force_login(people["floor"])
    answer = client.post(reverse("staff:logout"))
    assert answer["Clear-Site-Data"] == '"cache", "storage"'
    assert "_auth_user_id" not in client.session
