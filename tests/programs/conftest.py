"""Reading a page of the floor as its staff do."""

import pytest
from django.urls import reverse


@pytest.fixture
def reader(client, people):
    """Reads a page as floor staff, in one line of text."""
    client.force_login(people["floor"])

    def read(name, pk, query=""):
        response = client.get(reverse(f"attendance:{name}", args=[pk]) + query)
        assert response.status_code == 200
        text = " ".join(response.content.decode().split())
        return text[text.index('<main id="main"') :]

    return read
