"""A real browser shows a page of another port of this computer, which tries everything a page can try."""

import contextlib
import http.server
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Error, Page

from tests.server.web.bench import Service

# Each attempt says what it got: "blocked", or what a foreign page must never see.
ATTEMPTS = """
async (target) => {
  const got = {};
  const attempt = async (name, run) => {
    try { got[name] = String(await run()); } catch (error) { got[name] = "blocked"; }
  };
  const json = { "Content-Type": "application/json", "Slipring-Request": "1" };
  const body = JSON.stringify({ name: "evil" });
  await attempt("read", async () => (await fetch(target + "/api/rigs")).text());
  await attempt("read without cors", async () => (await fetch(target + "/api/rigs", { mode: "no-cors" })).type);
  const sent = async (path, method) => (await fetch(target + path, { method, headers: json, body })).status;
  await attempt("change", () => sent("/api/rigs", "POST"));
  await attempt("change as text", async () =>
    (await fetch(target + "/api/rigs", { method: "POST", mode: "no-cors", body })).type);
  for (const method of ["PUT", "DELETE", "PATCH", "INVENTED"])
    await attempt(method, () => sent("/api/rigs/heron-1", method));
  await attempt("beacon", async () => { navigator.sendBeacon(target + "/api/rigs", body); return "sent"; });
  await attempt("socket", () => new Promise((resolve, reject) => {
    const socket = new WebSocket(target.replace("http", "ws") + "/live");
    socket.onopen = () => resolve("open");
    socket.onerror = () => reject(new Error());
  }));
  const element = (tag, attribute, path) => new Promise((resolve, reject) => {
    const made = document.createElement(tag);
    made.onload = () => resolve("loaded");
    made.onerror = () => reject(new Error());
    made[attribute] = target + path;
    document.body.append(made);
  });
  await attempt("image", () => element("img", "src", "/api/rigs"));
  await attempt("script", () => element("script", "src", "/assets/page.js"));
  await attempt("events", () => new Promise((resolve, reject) => {
    const source = new EventSource(target + "/api/lines");
    source.onopen = () => resolve("open");
    source.onerror = () => { source.close(); reject(new Error()); };
  }));
  const form = document.createElement("form");
  form.method = "POST"; form.action = target + "/api/demo/start"; form.enctype = "text/plain"; form.target = "answer";
  const frame = document.createElement("iframe");
  frame.name = "answer";
  document.body.append(frame, form);
  const shown = new Promise((resolve) => { frame.onload = resolve; });
  form.submit();
  await shown;
  return got;
}
"""


class _Blank(http.server.BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>evil</title><body>")

    def log_message(self, format: str, *args: Any) -> None: ...


@pytest.fixture
def foreign() -> Iterator[str]:
    """The address of a page on another port."""
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Blank) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()
        thread.join()


def signed_in(browser: Browser, service: Service) -> Page:
    page = browser.new_page()
    name, value = service.cookie()
    page.context.add_cookies(
        [{"name": name, "value": value, "url": service.url, "httpOnly": True, "sameSite": "Strict"}]
    )
    return page


def test_a_foreign_page_reads_nothing_and_changes_nothing(service: Service, foreign: str, browser: Browser) -> None:
    page = signed_in(browser, service)  # cookies know no ports: the foreign page's requests carry ours
    statuses: dict[str, set[int]] = {}
    page.on("response", lambda got: statuses.setdefault(got.request.method, set()).add(got.status))
    page.goto(foreign)
    got = page.evaluate(ATTEMPTS, service.url)
    frame = page.frame(name="answer")
    assert frame is not None
    answer = ""
    with contextlib.suppress(Error):  # a refused frame may have no document at all
        answer = frame.content()
    assert "heron" not in answer
    page.close()
    opaque = {"read without cors", "change as text"}  # a browser lets it happen and shows nothing of it
    for name, what in got.items():
        allowed = {"sent"} if name == "beacon" else {"blocked", "opaque"} if name in opaque else {"blocked"}
        assert what in allowed, (name, what)
    assert statuses["POST"] <= {401, 403, 415}
    assert set(service.rigs.rigs) == {"heron-1", "heron-2"}


def test_a_link_on_a_foreign_page_opens_ours(service: Service, foreign: str, browser: Browser) -> None:
    page = signed_in(browser, service)
    page.goto(foreign)
    page.evaluate("(target) => { location.href = target + '/'; }", service.url)
    page.wait_for_url(f"{service.url}/")
    assert page.title() == "page"
    page.close()
