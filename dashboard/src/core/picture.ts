/**
 * What the service sends, as types: the twin of server/live/SOCKET.md, which is the authority.
 * Field names are those of the wire, so that a search finds both ends. Records only.
 */
import type { Alarms } from "./alarms";
import type { Keeping } from "./kept";
import type { Steadied } from "./steadied";
import type { Verdict } from "./wiring";

export interface Quantity {
  readonly key: string;
  readonly symbol: string;
  readonly label: string;
  readonly unit: string;
  readonly digits: number;
}

export interface Hello {
  readonly kind: "hello";
  readonly quantities: readonly Quantity[];
  readonly service: string;
}

export type Confidence = "good" | "doubtful" | "absent";
export type Value = number | string | readonly number[];

export interface Reading {
  readonly value: Value | null;
  readonly confidence: Confidence;
  readonly reason: string;
  readonly at_utc_s: number | null;
  readonly aged: "" | "stale" | "absent";
  readonly u95?: number | readonly number[]; // half the width of the interval that holds the true value in 95 % of cases; of a list, of each
  readonly least?: number; // the value is smaller than this, which its channel cannot tell from nothing
  readonly low95?: number; // its ends, where a bound of the quantity cuts it
  readonly high95?: number;
  readonly steadied?: Steadied; // the page's own: how it is written
}

export type Readings = Readonly<Record<string, Reading>>;

export type ConnectionState =
  | "no_board"
  | "connecting"
  | "live"
  | "stale"
  | "too_old"
  | "disconnected"
  | "refused"
  | "settings_refused"
  | "ended"
  | "no_rig";

export interface Connection {
  readonly state: ConnectionState;
  readonly text: string;
  readonly detail: string;
  readonly since_utc_s: number | null;
  readonly port: string;
  readonly retry_s: number | null;
  readonly file: string; // full path of the settings file that is refused, or ""
}

export interface Recording {
  readonly state: "none" | "recording" | "gap" | "closed" | "failed";
  readonly since_utc_s: number | null;
  readonly gap_since_utc_s: number | null;
  readonly run: string;
  readonly reason: string;
  readonly gaps_s: number; // how long in all the board was gone, without the gap that is now
  readonly free_bytes: number | null; // where no samples are written, as the disk is nearly full
  readonly lost_utc_s: number | null; // since when they are lost, as no more of them wait in memory
  readonly room_s: number | null; // for how long there is room; null: not known
}

/** A recorded run that is played: nothing of the picture is now. Another number of jumps: it went to another place. */
export interface Playing {
  readonly run: string;
  readonly rig: string;
  readonly from_utc_s: number;
  readonly to_utc_s: number;
  readonly state: "playing" | "paused" | "seeking" | "ended";
  readonly pace: number; // seconds of the run in one of ours
  readonly jumps: number;
  readonly trouble: string;
  readonly calibration: "then" | "today" | "none"; // with which all is computed
  readonly calibrated: boolean; // it says something of a channel of the board
  readonly reached: number | null; // the pace at which it goes where the PC cannot keep the one asked for
  readonly sought_utc_s: number | null; // the place that it is on its way to
}

export interface Motor {
  readonly name: string;
  readonly type: string;
  readonly plate: Readonly<Record<string, number>>;
  readonly plate_source: string;
}

/** By the id of a reading: lowest and highest that a person wants, null: no limit on that side. */
export type Limits = Readonly<Record<string, readonly [number | null, number | null]>>;

export interface Happened {
  readonly kind: string;
  readonly text: string;
  readonly detail: string;
  readonly decisive: boolean;
  readonly utc_s: number;
}

export interface Damage {
  readonly frames_lost: number;
  readonly checksum: number;
  readonly frames: number;
  readonly frames_per_s: number;
  readonly last_text: string;
  readonly last_utc_s: number | null;
  readonly samples_missing: number;
  readonly dropped_blocks: number;
  readonly overruns: number;
  readonly unknown_frames: number; // of a later version of the protocol: skipped
  readonly unknown_fields: number;
}

export interface BoardChannel {
  readonly index: number;
  readonly name: string;
  readonly place: string;
  readonly role: string;
  readonly unit: string;
  readonly low: number;
  readonly high: number;
  readonly said: { readonly role: string; readonly place: string } | null; // the board's own word where a person set another
  readonly rate_hz: number | null; // null: uneven
  readonly interval_max_s: number | null;
  readonly noise_rms: number | null;
  readonly offset_limit: number | null;
  readonly step: number; // the value of one code
  readonly clipped: number;
}

export interface Board {
  readonly serial: string;
  readonly model: string;
  readonly firmware: string;
  readonly protocol: string;
  readonly boot: number | null;
  readonly up_s: number | null;
  readonly temperature_c: number | null;
  readonly supply_v: number | null;
  readonly clock_drift_ppm: number | null;
  readonly instead_of: string; // serial number of another board that this rig had before, or ""
  readonly set_aside: readonly string[]; // what was set for channels and cannot be meant of this board
  readonly channels: readonly BoardChannel[];
}

export interface Rig {
  readonly name: string;
  readonly motor: string;
  readonly demo_motor: string; // what the service runs on the demo bench for it, or ""
  readonly demo_story: string; // which of its stories, over and over; "": all in turn
  readonly demo_pace: number; // seconds of the board in one of ours
  readonly state: string;
  readonly connection: ConnectionState;
  readonly rank: number;
  readonly tag: string;
  readonly playing: string; // the recorded run that is played under this name, or ""
}

export type Span = readonly [number, number];

export interface Line {
  readonly role: string;
  readonly place: string;
  readonly name: string;
  readonly unit: string;
  readonly low: Float32Array;
  readonly high: Float32Array;
  readonly range: Span;
  readonly peak: Span;
  readonly least: number; // a peak below it may be noise and offset alone
  readonly clipped: boolean;
}

export interface Power {
  readonly low: Float32Array;
  readonly high: Float32Array;
  readonly mean: number | null;
  readonly back_percent: number | null;
}

export interface Trace {
  readonly start_utc_s: number;
  readonly span_s: number;
  readonly cycles: number | null;
  readonly turns: number | null; // of the shaft
  readonly held_at: string;
  readonly columns: number;
  readonly lines: readonly Line[];
  readonly power: Power | null;
  readonly gaps: readonly Span[];
  readonly zero_voltage_s: number | null;
  readonly zero_current_s: number | null;
}

export interface StateSpan {
  readonly state: string;
  readonly from_s: number;
  readonly to_s: number;
}

export interface Strip {
  readonly start_utc_s: number;
  readonly wide_s: number;
  readonly end_s: number;
  readonly wide: { readonly t: Float32Array; readonly speed: Float32Array; readonly current: Float32Array };
  readonly rest: {
    readonly t: Float32Array;
    readonly speed_low: Float32Array;
    readonly speed_high: Float32Array;
    readonly current_low: Float32Array;
    readonly current_high: Float32Array;
  };
  readonly synchronous_speed_rpm: number | null;
  readonly states: readonly StateSpan[];
  readonly gaps: readonly Span[];
}

export interface Hall {
  readonly state: number | null;
  readonly sector: number | null;
  readonly electrical_deg: number | null;
  readonly direction: number | null;
  readonly valid: boolean | null;
  readonly seen: readonly number[];
  readonly right: readonly number[];
  readonly counts: readonly number[];
}

/** One thing of how the board is connected; sensor and place "" where it is of all together. */
export interface Finding {
  readonly key: string;
  readonly sensor: string;
  readonly place: string;
  readonly verdict: "right" | "wrong" | "unknown";
  readonly text: string;
  readonly change: string; // what to change, or what would tell
}

export interface Picture {
  readonly kind: "picture";
  readonly number: number;
  readonly rig: string;
  readonly demo: boolean;
  readonly source: string;
  readonly now_utc_s: number;
  readonly sample_utc_s: number | null;
  readonly sample_utc_uncertainty_s: number | null;
  readonly connection: Connection;
  readonly recording: Recording;
  readonly playing: Playing | null;
  readonly motor: Motor;
  readonly speed_unit: string; // how a person wants speeds shown
  readonly limits: Limits;
  readonly far: readonly string[];
  readonly readings: Readings;
  readonly state_since_utc_s: number | null;
  readonly context: Readonly<Record<string, number | null>>;
  readonly events: readonly Happened[];
  readonly damage: Damage;
  readonly board: Board | null;
  readonly rigs: readonly Rig[];
  readonly alarms: Alarms; // of all rigs
  readonly keeping: Keeping;
  readonly trace: Trace | null;
  readonly strip: Strip | null;
  readonly hall: Hall | null;
  readonly findings: readonly Finding[];
  readonly verdicts: readonly Verdict[];
}
