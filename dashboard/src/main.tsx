/** Wires the page: the store, the socket that fills it, the keys, the screen. */
import { render } from "preact";
import { inWords, keyOf, shown } from "./core/shown";
import { SILENT } from "./core/announce";
import { Store } from "./core/store";
import { stateWord } from "./core/words";
import { frame } from "./draw/frame";
import { stepBack, stepped } from "./draw/stepped";
import { startTheme, toggleTheme } from "./draw/theme";
import { learnVisitor } from "./feed/access";
import { Feed } from "./feed/socket";
import { toAlarm } from "./panels/alarm_line";
import { armOrNot } from "./panels/keep";
import type { KeyAct } from "./panels/keys";
import { startKeys } from "./panels/keys";
import { measure } from "./panels/measure";
import { toEvent } from "./panels/play_bar";
import { showSaid } from "./panels/said";
import { zooming } from "./panels/zooming";
import { Page } from "./screens/page";
import { ALL_SCREENS, SCREENS } from "./screens/index";
import { go, route, screenOf, startRoute } from "./screens/route";
import "./styles/tokens.css";
import "./styles/base.css";
import "./styles/frame.css";
import "./styles/alarms.css";
import "./styles/drawing.css";
import "./styles/panels.css";
import "./styles/runs.css";
import "./styles/connect.css";
import "./styles/measure.css";
import "./styles/narrow.css";
import "./styles/rig.css";
import "./styles/calibration.css";
import "./styles/devices.css";
import "./styles/plan.css";
import "./styles/opened.css";
import "./styles/wiring.css";
import "./styles/night.css";
import "./styles/check.css";
import "./styles/print.css";

const STILL_HERE_MS = 3_600_000;
const TICK_MS = 250; // ages what is shown although nothing comes

const asked = new URLSearchParams(location.search);
const store = new Store();
const feed = new Feed(store, (job) => frame.request(job), asked.get("rig") ?? "");

const first = SCREENS[0]!;
const keys: readonly KeyAct[] = [
  ...SCREENS.map(({ key, name }, k) => ({ key: `${k + 1}`, name: `${k + 1}`, does: name, act: () => go(key) })),
  { key: "f", name: "F", does: "step back: only what is read from across the room", act: farOrNear },
  { key: " ", name: "Space", does: "hold or release the picture; recording goes on", act: () => store.toggleHold(performance.now()) },
  { key: ",", name: ",", does: "the event before, in a run that is played", act: () => toEvent(false) },
  { key: ".", name: ".", does: "the next event", act: () => toEvent(true) },
  { key: "+", name: "+", does: "more cycles, on a held picture more time; on Night nearer", act: () => nearerOr(true) },
  { key: "-", name: "-", does: "fewer cycles, on a held picture less time; on Night farther", act: () => nearerOr(false) },
  { key: "escape", name: "Escape", does: "take the points off the picture", act: () => measure.clear() },
  { key: "k", name: "K", does: "keep the next start, or wait for it no more", act: () => armOrNot(store) },
  { key: "a", name: "A", does: "go to the alarm; Enter then acknowledges it", act: toAlarm },
  { key: "t", name: "T", does: "light, dark", act: toggleTheme },
  { key: "s", name: "S", does: "say the state now to a screen reader, and show it", act: sayState },
];

function sayState(): void {
  const picture = store.calm.value;
  if (!picture) return;
  const numbers = picture.far.map((id) => {
    const quantity = store.quantity(keyOf(id));
    const look = shown(quantity, picture.readings[id], false, true);
    return `${quantity?.label ?? id} ${look.mark === "absent" ? "" : inWords(look)} ${look.why}`.trim();
  });
  const said = `${stateWord(picture, store.linked.value)}. ${numbers.join(", ")}.`;
  store.told.value = { ...(store.told.value ?? SILENT), said, said_ms: performance.now() };
  showSaid(said);
}

function nearerOr(plus: boolean): void {
  if (zooming.value) zooming.value(plus);
  else measure.zoom(plus);
}

/** Only the first screen is drawn to be read from across the room; another one ends it. */
function farOrNear(): void {
  if (!stepped.value && screenOf(ALL_SCREENS, route.value) !== first) go(first.key);
  stepBack();
}

startRoute();
void learnVisitor();
setInterval(() => void learnVisitor(), STILL_HERE_MS); // a wall screen that asks nothing else stays in use
store.link.subscribe(({ state }) => { if (state === "closed") void learnVisitor(); }); // perhaps the session has ended
route.subscribe((now) => { if (stepped.peek() && screenOf(ALL_SCREENS, now) !== first) stepBack(); });
measure.start(store, (cycles) => feed.zoom(cycles));
startTheme(asked.get("theme"));
startKeys(keys);
if (asked.get("view") === "far") farOrNear();
setInterval(() => store.tick(performance.now()), TICK_MS);
render(<Page store={store} keys={keys} onRig={(rig) => feed.select(rig)} onRetry={() => feed.open()} />, document.getElementById("page")!);
feed.open();
