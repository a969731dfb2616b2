"""After sign-out nothing of a person is a press of Back away, with the browser's own memory on."""

import pytest
from playwright.sync_api import expect

from tests.factories.enrolment import EnrolmentFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SIZES = [(1366, 768), (768, 1024)]
PAGES = ["/patients/{}/details/", "/patients/{}/background/", "/patients/{}/"]


@pytest.fixture(scope="module")
def remembering(browser_type, browser_type_launch_args):
    """Playwright turns the back-forward cache off by itself; people have it on."""
    browser = browser_type.launch(
        **browser_type_launch_args, ignore_default_args=["--disable-back-forward-cache"]
    )
    yield browser
    browser.close()


@pytest.fixture
def page(remembering):
    context = remembering.new_context()
    yield context.new_page()
    context.close()


@pytest.fixture
def person(clinic):
    return EnrolmentFactory(patient__site=clinic, patient__family_name="Quillfeather").patient


def sign_out(page):
    page.locator("details.menu > summary").click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url(lambda url: "/login/" in url)


def back(page):
    """A press of Back; a page out of the cache fires no "load", so only its arrival is awaited."""
    page.evaluate("history.back()")
    page.wait_for_timeout(700)


def test_a_page_that_may_be_kept_is_kept_here(desk):
    """Without this the tests below would pass in a browser that remembers nothing."""
    desk.page.route(
        "**/kept/",
        lambda route: route.fulfill(body="<title>kept</title>", content_type="text/html"),
    )
    desk.go("/kept/")
    desk.page.evaluate(
        "() => window.addEventListener('pageshow', (e) => { window.cameBack = e.persisted; })"
    )
    desk.go("/login/")
    back(desk.page)
    assert desk.page.title() == "kept"
    assert desk.page.evaluate("window.cameBack") is True


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("path", PAGES)
def test_back_after_sign_out_shows_nobody(desk, person, width, height, path):
    desk.page.set_viewport_size({"width": width, "height": height})
    desk.sign_in("clinician")
    desk.go("/due/")
    desk.go(path.format(person.pk))
    assert "Quillfeather" in desk.page.content()
    sign_out(desk.page)
    for _ in range(2):
        back(desk.page)
        assert "Quillfeather" not in desk.page.content()
        expect(desk.page.get_by_label("Password")).to_be_visible()


def test_sign_out_wipes_drafts_and_closes_the_other_tabs(desk, person):
    path = f"/patients/{person.pk}/details/"
    desk.sign_in("clinician")
    desk.go(path)
    desk.page.evaluate("sessionStorage.setItem('draft:x', '{}')")
    other = desk.page.context.new_page()
    other.goto(desk.address + path)
    other.evaluate("sessionStorage.setItem('draft:x', '{}')")
    sign_out(desk.page)
    other.wait_for_url(lambda url: "/login/" in url)
    for tab in (desk.page, other):
        kept = tab.evaluate("JSON.stringify(sessionStorage)")
        assert "draft:" not in kept
        assert "/patients/" not in kept
        assert "Quillfeather" not in tab.content()
