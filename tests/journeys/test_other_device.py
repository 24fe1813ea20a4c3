"""A phone on the bench network, played by a second Chromium in a network namespace of its own."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page, expect

from tests.journeys.bench import Service, service, wait_for
from tests.journeys.other_device import PC, browser_there, wire
from tests.journeys.page import SIZES, STATE, barriers, opened

ASKED = ".asked"
GET = "async (path) => { const got = await fetch(path); return [got.status, await got.text()]; }"


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[tuple[Service, str]]:
    """The demo, open to a bench network on which there is one other computer."""
    with (
        wire() as namespace,
        service(tmp_path / "data", "--demo-motor", "cabin_ventilator", "--bench-network", PC) as running,
    ):
        wait_for(lambda: running.get("/api/rigs")[0]["connection"] == "live", "the board", 90)
        yield running, namespace


def phone_page(there: Browser) -> Page:
    width, height = SIZES["phone"]
    return there.new_page(viewport={"width": width, "height": height}, has_touch=True, is_mobile=True)


@pytest.mark.long
def test_a_phone_is_paired_looks_and_deletes_only_what_the_pc_agrees_to(
    browser: Browser, demo: tuple[Service, str], tmp_path: Path, shots: Path | None
) -> None:
    running, namespace = demo
    rig = running.get("/api/rigs")[0]["name"]
    address = f"https://{PC}:{running.url.rpartition(':')[2]}/"
    certificate = running.data / "secret" / "bench-certificate.pem"
    with browser_there(browser.browser_type, namespace, tmp_path, None) as wary:
        with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
            phone_page(wary).goto(address)
        for elsewhere in (running.url, "http://192.0.2.1/"):  # it reaches this PC by the wire and nothing else
            with pytest.raises(Error, match="net::ERR_"):
                phone_page(wary).goto(elsewhere, timeout=5000)
    run = wait_for(lambda: running.send("POST", f"/api/rigs/{rig}/run", {"action": "end"})["run"], "a run")
    with (
        opened(browser, f"{running.url}/#rig", refused=True) as pc,
        browser_there(browser.browser_type, namespace, tmp_path, certificate) as there,
    ):
        phone = phone_page(there)
        nothing_but_the_door(phone, address, rig)
        pc.get_by_role("button", name="Pair a device").click()
        code = pc.locator(".devices .letters").inner_text()
        phone.get_by_label("Code").fill(code.replace("-", "").lower())
        phone.get_by_label("Name of this device").fill("Anna's phone")
        if shots:
            phone.screenshot(path=shots / "pair-phone.png")
        phone.get_by_role("button", name="Pair this device").click()
        expect(phone.locator(STATE)).not_to_be_empty(timeout=60_000)
        expect(phone.locator(".head")).to_contain_text(rig)
        expect(pc.locator(".devices")).to_contain_text("Anna's phone is paired.")
        expect(pc.locator(".devices .code")).to_have_count(0)
        assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert barriers(phone) == []
        held = phone.evaluate(
            """async (rig) => (await fetch(`api/rigs/${rig}/hold`, { method: "POST", body: "{}",
               headers: { "Content-Type": "application/json", "Slipring-Request": "1" } })).status""",
            rig,
        )
        assert held == 200  # a mark needs nobody's consent
        expect(pc.locator(ASKED)).to_have_count(0)

        phone.goto(f"{address}#runs/{run}")
        delete(phone)
        expect(pc.locator(ASKED)).to_contain_text(f"Anna's phone asks to delete the run {run}.")
        expect(phone.locator(ASKED)).to_contain_text("The PC is asked whether you may delete the run")
        if shots:
            phone.screenshot(path=shots / "waits-phone.png")
            pc.screenshot(path=shots / "asked-desktop.png")
        assert pc.title().startswith("(1) ")
        assert barriers(pc) == []
        assert run in {each["name"] for each in running.get("/api/runs")}
        pc.get_by_role("button", name="Refuse").click()
        expect(phone.locator("main")).to_contain_text("The PC did not agree; nothing was changed.")
        expect(pc.locator(ASKED)).to_have_count(0)
        assert run in {each["name"] for each in running.get("/api/runs")}
        delete(phone)
        pc.get_by_role("button", name="Agree").click()
        wait_for(lambda: run in {each["name"] for each in running.get("/api/runs/deleted")}, "the run is deleted")

        pc.get_by_role("button", name="Remove Anna's phone").click()
        expect(phone.get_by_role("heading", name="Pair this device")).to_be_visible()
        assert phone.evaluate(GET, "api/rigs")[0] == 401


def nothing_but_the_door(phone: Page, address: str, rig: str) -> None:
    phone.goto(address)
    expect(phone.get_by_role("heading", name="Pair this device")).to_be_visible()
    assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert barriers(phone) == []
    assert rig not in phone.content()
    for path in ("api/rigs", "api/session", "api/openapi.json", f"api/rigs/{rig}/readings", "index.html"):
        status, body = phone.evaluate(GET, path)
        assert (status, rig in body) == (401, False), path
    refused = phone.evaluate(
        """() => new Promise((done) => {
           const socket = new WebSocket(new URL("live", location.href.replace("http", "ws")));
           socket.onopen = () => done("open"); socket.onerror = () => done("refused"); })"""
    )
    assert refused == "refused"


def delete(phone: Page) -> None:
    phone.get_by_role("button", name="Delete this run").click()
