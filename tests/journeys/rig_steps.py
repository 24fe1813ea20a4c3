"""Steps on the Rig screen of a rig called bench that journeys take on their way: who is called, and a test plan."""

import re
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.server.notify.hooks import hooks


def tries_a_receiver(page: Page, data: Path) -> None:
    """Receivers that are set up by hand are seen, and a test of one tells what came of it."""
    receivers = page.locator(".receivers")
    expect(receivers).to_contain_text("Nobody is called.")
    file = data / "notify.toml"
    expect(receivers).to_contain_text(str(file))
    with hooks() as hook:
        file.write_text(f'[webhook.workshop]\nurl = "http://127.0.0.1:{hook.port}/S3cret"\nlocal = true\n')
        expect(receivers).to_contain_text("Alarms of bench go to workshop, cautions to nobody.")
        page.get_by_role("button", name="Send a test to workshop").click()
        expect(receivers.get_by_role("status")).to_contain_text("The test: The receiver took it")
        assert "test" in [word["kind"] for word in hook.came]
        assert "S3cret" not in page.locator("main").inner_text()
    file.unlink()
    expect(receivers).to_contain_text("Nobody is called.")


def makes_a_plan(page: Page, data: Path) -> None:
    """A plan that has no goal is refused; one with a goal is judged, fails by a limit, is put away and comes back."""
    plan, file = page.locator(".plan"), data / "plans" / "bench.toml"
    page.get_by_role("button", name="Make a test plan").click()
    expect(plan).to_contain_text("What fails it is added once the plan is set.")
    page.get_by_label("Specimen").fill("the fan by the window")
    page.get_by_role("button", name="Set the plan").click()
    expect(plan.get_by_role("alert")).to_contain_text("It has no goal, so it would be over at once")
    goal = page.get_by_label("Goal, cycles")
    goal.fill("none")
    page.get_by_role("button", name="Set the plan").click()
    expect(page.locator(".entry", has=goal).get_by_role("alert")).to_contain_text("this is not a whole number")
    assert not file.exists()
    goal.fill("500")
    page.get_by_role("button", name="Set the plan").click()
    expect(plan).to_contain_text(re.compile(r"Undecided so far.*[01] of 500\u00a0cycles"))
    used = re.compile(r"[01] starts?, on for .*No duty type seen yet", re.DOTALL)
    expect(page.locator(".cycles")).to_contain_text(used)
    plan.get_by_role("button", name="a reading").click()
    page.get_by_label("Reading", exact=True).select_option("voltage_rms_v")
    page.get_by_label("Highest").fill("100")
    page.get_by_role("button", name="Set the limit").click()
    expect(plan).to_contain_text("above 100\u00a0V, while it runs")
    expect(plan).to_contain_text(re.compile(r"Failed.*above 100\u00a0V\s+\d+\s\w+\s\d\d:\d\d"))
    page.get_by_role("button", name="Remove the plan").press("Enter")  # an alarm may move the page below a click
    expect(plan).to_contain_text("kept as bench.toml.previous")
    assert not file.exists()
    page.get_by_role("button", name="Undo the change of the plan").click()
    expect(plan).to_contain_text("above 100\u00a0V, while it runs")
    page.get_by_role("button", name="Write it as text").click()
    page.get_by_label("Text of the plan").fill('[test]\nspecimen = "fan"\ngoal_hours = 0\n')
    page.get_by_role("button", name="Set the plan").click()
    expect(plan.get_by_role("alert")).to_contain_text("bench.toml, line 3: goal_hours = 0: this is not possible")
    selected = "(e => e.value.slice(e.selectionStart, e.selectionEnd))(document.querySelector('.plan textarea'))"
    assert page.evaluate(selected) == "goal_hours = 0"
    page.keyboard.press("Escape")
    spoils_a_plan(page, file)
    page.get_by_role("button", name="Remove the plan").click()
    expect(plan).to_contain_text("None yet.")


def spoils_a_plan(page: Page, file: Path) -> None:
    """What a hand wrote wrong is told with file and line, mended as text; written wrong again, it can be removed."""
    plan, before = page.locator(".plan"), file.read_text()
    file.write_text(before.replace("goal_cycles = 500", "goal_cycles = many"))
    expect(plan.get_by_role("alert")).to_contain_text(re.compile(rf"{re.escape(str(file))}, line 3: this is not TOML"))
    plan.get_by_role("button", name="Mend it as text").click()
    text = page.get_by_label("Text of the plan")
    expect(text).to_be_focused()
    selected = "(e => e.value.slice(e.selectionStart, e.selectionEnd))(document.querySelector('.plan textarea'))"
    assert page.evaluate(selected) == "goal_cycles = many"
    text.fill(before)
    page.get_by_role("button", name="Set the plan").click()
    expect(plan).to_contain_text("above 100\u00a0V, while it runs")
    file.write_text("[test]\ngoal_hours = 0\n")
    expect(plan.get_by_role("alert")).to_contain_text("bench.toml, line 2: goal_hours = 0: this is not possible")
    expect(plan.get_by_role("button", name="Make another plan in its place")).to_be_visible()
