/** A picture of a running ventilator for tests, with what differs. Imported by tests only. */
import { NO_ALARMS } from "./alarms";
import type { Line, Picture, Playing } from "./picture";

export function testLine(more: Partial<Line> = {}): Line {
  const values = Float32Array.from({ length: 60 }, (_, k) => 325 * Math.sin((2 * Math.PI * k) / 20));
  return {
    role: "voltage", place: "supply", name: "U", unit: "V", low: values, high: values,
    range: [-400, 400], peak: [-325, 325], least: 0.1, clipped: false, ...more,
  };
}

export function testPicture(more: Partial<Picture>): Picture {
  const good = { confidence: "good", reason: "", at_utc_s: 1000, aged: "" } as const;
  return {
    kind: "picture", number: 1, rig: "heron-1", demo: true, source: "demo", now_utc_s: 1000, sample_utc_s: 999.98,
    sample_utc_uncertainty_s: 0.002,
    connection: { state: "live", text: "", detail: "", since_utc_s: 900, port: "/dev/ttyACM0", retry_s: null, file: "" },
    recording: { state: "recording", since_utc_s: 900, gap_since_utc_s: null, run: "", reason: "", gaps_s: 0, free_bytes: null, room_s: null, lost_utc_s: null },
    playing: null,
    motor: { name: "cabin ventilator", type: "permanent_split_capacitor", plate: { current_a: 0.55 }, plate_source: "board" },
    speed_unit: "r/min", limits: {},
    far: ["speed_rpm", "current_rms_a", "voltage_rms_v"],
    readings: { run_state: { value: "running", ...good }, speed_rpm: { value: 1380, ...good } },
    state_since_utc_s: 950, context: { started_in_s: 0.48 }, events: [],
    damage: {
      frames_lost: 0, checksum: 0, frames: 1, frames_per_s: 160, last_text: "", last_utc_s: null,
      samples_missing: 0, dropped_blocks: 0, overruns: 0, unknown_frames: 0, unknown_fields: 0,
    },
    board: null, rigs: [], alarms: NO_ALARMS, keeping: { armed: null, kept: [], trouble: "" },
    trace: {
      start_utc_s: 999.9, span_s: 0.06, cycles: 3, turns: null, held_at: "rising zero of the voltage", columns: 60,
      lines: [testLine(), testLine({ role: "current", place: "line", name: "I", unit: "A", range: [-5, 5], peak: [-0.8, 0.8] })],
      power: null, gaps: [], zero_voltage_s: 0.02, zero_current_s: 0.0207,
    },
    strip: null, hall: null, findings: [], verdicts: [], ...more,
  };
}

export const TEST_PLAYING: Playing = {
  run: "20261125-1402-heron-1", rig: "heron-1", from_utc_s: 900, to_utc_s: 1100, state: "playing", pace: 1, jumps: 1, trouble: "",
  calibration: "then", calibrated: true, reached: null, sought_utc_s: null,
};
