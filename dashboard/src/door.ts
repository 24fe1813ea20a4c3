/**
 * The door: what strangers get instead of the page. On the PC itself it exchanges a one-time link for a session, or tells
 * how to get a link; on the bench network it asks for the code that the PC shows. It knows nothing of rigs.
 */
import "./styles/door.css";

const LOCAL = ["localhost", "127.0.0.1", "[::1]"];
const onPc = LOCAL.includes(location.hostname);
const main = document.getElementById("door")!;
const secret = decodeURIComponent(location.hash.slice(1));
const byLink = location.pathname.endsWith("/enter");

if (byLink && secret) history.replaceState(null, "", "enter"); // it stands in no history, and nobody reads it off the screen
const theme = localStorage.getItem("slipring-theme");
if (theme === "light" || theme === "dark") document.documentElement.dataset["theme"] = theme;
void open();

async function open(): Promise<void> {
  if (await isIn()) return goIn(); // a link of another page does not carry the session; this page does
  if (!onPc) return pair(byLink ? secret : "");
  if (!byLink || !secret) return noLink("This page needs a link", "");
  try {
    await send("api/enter", { link: secret });
    goIn();
  } catch (error) {
    noLink("This link opens nothing any more", sentenceOf(error));
  }
}

async function isIn(): Promise<boolean> {
  try {
    return ((await (await fetch("api/door")).json()) as { come_in?: unknown }).come_in === true;
  } catch {
    return false;
  }
}

function goIn(): void {
  if (byLink) location.replace("./");
  else location.reload();
}

function noLink(title: string, why: string): void {
  show(title, [
    ...(why ? [text("p", why)] : []),
    text("p", "Each link opens the page once, within an hour, in one browser of this PC. For a new one type in a terminal"),
    text("pre", "slipring link"),
    text("p", "In the folder of the demo it is .venv/bin/slipring link; with the same --data as the service. Open what it prints.", "second"),
  ]);
}

function pair(code: string): void {
  const form = document.createElement("form");
  const typed = field("Code", "code", code);
  typed.input.autocapitalize = "characters";
  typed.input.autocomplete = "one-time-code";
  typed.input.placeholder = "ABCD-EFGH";
  typed.input.maxLength = 16;
  const named = field("Name of this device", "name", deviceName());
  named.input.maxLength = 40;
  named.input.autocomplete = "off";
  const button = text("button", "Pair this device", "btn first") as HTMLButtonElement;
  const trouble = text("p", "", "trouble");
  trouble.setAttribute("role", "alert");
  trouble.hidden = true;
  form.append(typed.label, named.label, button, trouble);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    button.disabled = true;
    trouble.hidden = true;
    send("api/pair", { code: typed.input.value, name: named.input.value }).then(goIn, (error: unknown) => {
      trouble.textContent = sentenceOf(error);
      trouble.hidden = false;
      button.disabled = false;
      typed.input.focus();
    });
  });
  const encrypted = location.protocol === "https:";
  show("Pair this device", [
    ...(encrypted ? [] : [text("p", "Not encrypted: whoever is on this network can read along and take this device’s place.", "trouble")]),
    text("p", "The PC shows a code: on its Rig screen, under “Other devices”."),
    form,
    text("p", "A paired device looks and marks. What it wants to change or delete is asked on the PC first.", "second"),
  ]);
  (code ? button : typed.input).focus();
}

function deviceName(): string {
  const { userAgent } = navigator;
  if (/iPad|Tablet/.test(userAgent)) return "tablet";
  return /Mobi|iPhone|Android/.test(userAgent) ? "phone" : "computer";
}

function field(name: string, id: string, value: string): { label: HTMLElement; input: HTMLInputElement } {
  const label = text("label", name);
  const input = document.createElement("input");
  input.name = id;
  input.value = value;
  input.required = true;
  input.spellcheck = false;
  label.append(input);
  return { label, input };
}

function text(tag: string, words: string, kind = ""): HTMLElement {
  const made = document.createElement(tag);
  made.textContent = words;
  if (kind) made.className = kind;
  return made;
}

function show(title: string, parts: readonly Node[]): void {
  document.title = `${title}: Slipring`;
  main.replaceChildren(text("h1", title), ...parts);
}

async function send(path: string, body: object): Promise<void> {
  const headers = { "Content-Type": "application/json", "Slipring-Request": "1" };
  const response = await fetch(path, { method: "POST", headers, body: JSON.stringify(body) });
  if (response.ok) return;
  const said = (await response.json().catch(() => ({}))) as { detail?: unknown };
  throw new Error(typeof said.detail === "string" ? said.detail : `The service answered ${response.status}.`);
}

function sentenceOf(error: unknown): string {
  if (error instanceof TypeError) return "The service does not answer.";
  return error instanceof Error ? error.message : String(error);
}
