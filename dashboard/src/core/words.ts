/** What the page says about rig, motor, recording and phase, in the words of the trade or plain ones. */
import { capital, clock, day, duration, number, size, typeWords, withUnit } from "./format";
import type { Connection, ConnectionState, Motor, Picture, Playing, Reading, Recording, Rig, Trace } from "./picture";
import { decimalsOf } from "./rounding";
import { find, numberOf, shortText } from "./shown";
import { intervalOf } from "./steadied";

/** Motor and plate: "cabin ventilator, 230 V 50 Hz, 0.55 A". */
export function motorWords(motor: Motor): string {
  const name = motor.name || typeWords(motor.type);
  const given = (key: string, unit: string): string => {
    const value = motor.plate[key];
    return value === undefined ? "" : withUnit(asGiven(value), unit);
  };
  const supply = [given("voltage_v", "V"), given("frequency_hz", "Hz")].filter(Boolean).join(" ");
  const pairs = motor.plate["pole_pairs"];
  const poles = pairs === undefined ? "" : motor.type === "brushless" ? `${pairs} pole ${pairs === 1 ? "pair" : "pairs"}` : `${2 * pairs}-pole`;
  return [name, supply, given("current_a", "A"), poles].filter(Boolean).join(", ");
}

/** A figure of the plate with the digits that it was given with, two decimals at most. */
export function asGiven(value: number): string {
  const decimals = (String(value).split(".")[1] ?? "").length;
  return number(value, Math.min(decimals, 2));
}

/** "recording 14 min 02 s, gap since 14:16:09": always in the head, in words. What is told is the time recorded, without gaps. */
export function recordingWords(recording: Recording, now_utc_s: number): readonly [string, string] {
  const { state, since_utc_s, gap_since_utc_s, reason, gaps_s } = recording;
  const end_utc_s = state === "gap" ? (gap_since_utc_s ?? now_utc_s) : now_utc_s;
  const length = since_utc_s === null ? "" : duration(Math.max(0, Math.floor(end_utc_s - since_utc_s - gaps_s)));
  if (state === "recording") return ["recording", length];
  if (state === "gap") return ["recording", `${length}, gap since ${clock(gap_since_utc_s ?? now_utc_s)}`];
  if (state === "closed") return ["run closed", since_utc_s === null ? "" : clock(since_utc_s)];
  if (state === "failed" && recording.free_bytes !== null) return [recording.lost_utc_s === null ? "samples wait:" : "readings only:", `${size(recording.free_bytes)} free`];
  if (state === "failed") return ["", `recording failed${reason ? `: ${reason}` : ""}`];
  return ["not recording", ""];
}

/** The same where there is room for two words or three. */
export function recordingShort({ state, free_bytes, lost_utc_s }: Recording): string {
  if (state === "failed") return free_bytes === null ? "recording failed" : lost_utc_s === null ? "samples wait" : "readings only";
  return { recording: "recording", gap: "recording, gap", closed: "run closed" }[state as string] ?? "not recording";
}

/** Ours: a night at a bench, from evening to morning. */
const NIGHT_S = 10 * 3600;
const NIGHTS_MAX = 999; // more is no plan

/** "room for 6 nights", rounded down: for how long there is room to record. */
export function roomWords(room_s: number): string {
  const nights = Math.floor(room_s / NIGHT_S);
  if (nights > NIGHTS_MAX) return `room for over ${NIGHTS_MAX} nights`;
  if (nights >= 2) return `room for ${nights} nights`;
  if (room_s >= 2 * 3600) return `room for ${Math.floor(room_s / 3600)}\u00a0h`;
  return room_s >= 60 ? `room for ${Math.floor(room_s / 60)}\u00a0min` : "no room";
}

/** "playing 25 Nov 14:05:16": which moment of a recorded run is seen, in the place of the recording's words. */
export function playingWords({ state, pace, reached, sought_utc_s }: Playing, computed_utc_s: number): readonly [string, string] {
  const at_utc_s = sought_utc_s ?? computed_utc_s;
  const how = { playing: "playing", paused: "playing, paused at", seeking: "on its way to", ended: "played to its end," }[state];
  const times = state === "playing" && pace !== 1 ? `, ${reached === null ? paceWords(pace) : reachedWords(reached)}` : "";
  return [how, `${day(at_utc_s)} ${clock(at_utc_s)}${times}`];
}

/** With which calibration a run that is played is computed: the end of a sentence. */
export function calibrationWords({ calibration, calibrated }: Playing): string {
  if (calibration === "none") return "without calibration";
  if (calibrated) return calibration === "today" ? "with today\u2019s calibration" : "with the calibration of its time";
  return calibration === "today" ? "without calibration: today\u2019s is of other channels" : "without calibration: it had none then";
}

/** 10 -> "10 times as fast", 0.1 -> "10 times slower". */
export function paceWords(pace: number): string {
  return pace === 1 ? "as it was" : pace > 1 ? `${number(pace)} times as fast` : `${number(1 / pace)} times slower`;
}

/** What this PC reaches of a pace that is more than it can compute. */
export function reachedWords(reached: number): string {
  return `${number(reached, reached < 9.95 ? 1 : 0)} times as fast, all that this PC can compute`;
}

/** The first word of the far line: the motor's state, or what stands in the way of knowing it. */
export function stateWord(picture: Picture, linked: boolean): string {
  if (!linked) return "No service";
  const { state: connection, port, retry_s } = picture.connection;
  if (connection === "refused" && retry_s !== null) return "PC too slow";
  if (connection === "connecting" && !port) return "Demo motor starting";
  if (connection === "ended" && !picture.board) return "Demo motor not started";
  const word = CONNECTION_WORDS[connection];
  if (word) return word;
  const state = picture.readings["run_state"];
  const usable = state && state.value !== null && state.aged !== "absent" && state.confidence !== "absent";
  return usable ? capital(String(state.value)) : "Unknown";
}

const CONNECTION_WORDS: Partial<Record<ConnectionState, string>> = {
  no_board: "No board yet",
  connecting: "Asking the board",
  refused: "Board refused",
  settings_refused: "Settings refused",
  ended: "Demo motor ended",
  no_rig: "No such rig",
  disconnected: "Wire lost",
  too_old: "No samples",
};

/** What stands below the state word. */
export function stateContext(picture: Picture, linked: boolean): string {
  const { connection, now_utc_s, state_since_utc_s } = picture;
  if (!linked) return "this page does not reach the PC";
  if (connection.state === "no_board" && !picture.rig) return "looking at the serial ports of this PC";
  if (connection.state === "connecting") return `${connection.port ? "port open " : ""}${since(connection, now_utc_s)}`;
  if (connection.state === "settings_refused") return "no port is opened before they can be read";
  if (connection.state === "no_rig") return "";
  if (["no_board", "refused", "disconnected", "ended"].includes(connection.state)) return `since ${clock(connection.since_utc_s ?? now_utc_s)}`;
  if (connection.state === "too_old") return `since ${clock(picture.sample_utc_s ?? now_utc_s)}`;
  const state = picture.readings["run_state"];
  if (state?.reason) return state.reason.split("; ", 1)[0]!; // all of them stand below the readings
  if (state_since_utc_s === null) return "\u00a0";
  const started = picture.context["started_in_s"];
  const how = started != null && state?.value === "running" ? `, started in ${withUnit(number(started, 2), "s")}` : "";
  return `for ${duration(Math.max(0, Math.round(now_utc_s - state_since_utc_s)))}${how}`;
}

function since(connection: Connection, now_utc_s: number): string {
  if (connection.since_utc_s === null) return "";
  return `for ${withUnit(number(Math.max(0, now_utc_s - connection.since_utc_s), 1), "s")}`;
}

/** What a rig of the list does: "cabin ventilator, capacitor off, running", or what stands in the way; who refuses, board or PC, its tag says. */
export function rigWords({ motor, demo_story, state, connection, playing, rank, tag }: Rig): string {
  if (playing) return [motor, "a recorded run, played"].filter(Boolean).join(", ");
  const alive = connection === "live" || connection === "stale";
  return [motor, motor && demo_story, alive ? state : connection === "refused" && rank === 1 ? tag : (CONNECTION_WORDS[connection] ?? connection).toLowerCase()].filter(Boolean).join(", ");
}

/** The line of the rig that is shown; none where there is no such rig. */
export function ownRig({ rig, rigs }: Picture): Rig | undefined {
  return rigs.find(({ name }) => name === rig);
}

export interface Phase {
  readonly angle: string; // without its sign
  readonly time: string; // "" where no frequency is known
  readonly cos: string; // "" where it is not known
  readonly word: "lagging" | "leading" | "";
}

/** Phase of the current against the voltage, or null where the service gives none. Positive: the current lags. */
export function phase(picture: Picture): Phase | null {
  const deg = numberOf(picture.readings, "phase_angle_deg");
  if (deg === null) return null;
  const shift = find(picture.readings, "phase_angle_deg")!;
  const cosine = numberOf(picture.readings, "displacement_power_factor") === null ? undefined : find(picture.readings, "displacement_power_factor");
  const word = Math.abs(deg) < 0.05 ? "" : deg > 0 ? "lagging" : "leading";
  return { angle: unsigned(shortText(shift, 1)) + "°", time: timeOf(picture, shift), cos: cosine ? unsigned(shortText(cosine, 3)) : "", word };
}

function unsigned(text: string): string {
  return text.replace(/^\u2212/, "");
}

/** The angle as time, in ms: two decimals, fewer where what the angle may be off by does not allow them. */
function timeOf(picture: Picture, shift: Reading): string {
  const f = numberOf(picture.readings, "frequency_hz");
  if (!f) return "";
  const ms = 1000 / 360 / f;
  const half = intervalOf(shift, ms)?.half;
  const deg = shift.steadied?.short.value ?? (shift.value as number);
  return withUnit(number(Math.abs(deg) * ms, half ? Math.min(2, Math.max(0, decimalsOf(half))) : 2), "ms");
}

/** "current lags by 73.0° = 4.05 ms"; the cosine is set beside it with its low 1. */
export function phaseWords(found: Phase, slim: boolean): string {
  const { angle, time } = found;
  const verb = found.word === "leading" ? "leads" : "lags";
  if (found.word === "") return slim ? "in phase" : "current in phase with the voltage";
  return slim ? `${verb} ${angle}${time && `, ${time}`}` : `current ${verb} by ${angle}${time && ` = ${time}`}`;
}

function turnWords(turns: number): string {
  return turns === 1 ? "turn of the shaft" : `${turns === 3 ? "three" : turns} turns of the shaft`;
}

/** What the drawing of voltage and current holds: "last three cycles, 60 ms, held at ...". */
export function traceWords(trace: Trace): string {
  const counted = trace.turns ? turnWords(trace.turns) : ["", "cycle", "two cycles", "three cycles", "four cycles"][trace.cycles ?? 0];
  const length = withUnit(number(trace.span_s * 1000, trace.span_s < 0.01 ? 1 : 0), "ms");
  const held = trace.held_at ? `, held at ${/^(rising|falling)/.test(trace.held_at) ? "the " : ""}${trace.held_at}` : "";
  return `last ${counted ? `${counted}, ` : ""}${length}${held}`;
}
