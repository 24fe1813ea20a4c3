/**
 * What painting costs: the panel of voltage and current as the page has it, and the least that could
 * show the same, one path on a bare canvas. tests/benchmarks/paint.py runs both in turn and measures
 * from outside. Not part of the page.
 */
import { render } from "preact";
import type { Line, Picture, Trace } from "../src/core/picture";
import { Store } from "../src/core/store";
import { testLine, testPicture } from "../src/core/testing";
import { TRACE } from "../src/panels/trace";
import "../src/styles/tokens.css";
import "../src/styles/base.css";
import "../src/styles/frame.css";
import "../src/styles/drawing.css";

const COLUMNS = 600;
const PICTURES = 32; // different ones, so that nothing is drawn from a cache
const [WIDTH, HEIGHT] = [936, 276]; // of the panel's drawing on a page of 1440 px

/** Three cycles with the noise of a 12-bit channel (0.2 V of 325 V), as lowest and highest of each column. */
function wave(peak: number, lag_deg: number, turn: number, double = false): { low: Float32Array; high: Float32Array } {
  const at = (k: number): number => Math.sin(((double ? 2 : 1) * 6 * Math.PI * k) / COLUMNS - (lag_deg * Math.PI) / 180);
  const noise = (k: number): number => 0.0006 * Math.sin(k * 12.9898 + turn * 78.233);
  const low = Float32Array.from({ length: COLUMNS }, (_, k) => peak * (Math.min(at(k), at(k - 1)) + noise(k)));
  return { low, high: low.map((value, k) => value + peak * (Math.abs(at(k) - at(k - 1)) + 0.0006)) };
}

function picture(turn: number): Picture {
  const current = { role: "current", place: "line", name: "I", unit: "A", range: [-5, 5], peak: [-0.8, 0.8] } as const;
  const lines: Line[] = [testLine(wave(325, 0, turn)), testLine({ ...current, ...wave(0.8, 12, turn) })];
  const trace: Trace = { ...testPicture({}).trace!, lines, columns: COLUMNS, power: { ...wave(130, 12, turn, true), mean: 124, back_percent: 0.3 } };
  return testPicture({ number: turn, trace });
}

const pictures = Array.from({ length: PICTURES }, (_, k) => picture(k));

/** Run `paint` in so many animation frames; the milliseconds that each frame took from one to the next. */
async function frames(count: number, paint: (k: number) => void): Promise<number[]> {
  const at: number[] = [];
  for (let k = 0; k < count; k++) {
    at.push(await new Promise<number>((done) => requestAnimationFrame(done)));
    paint(k);
  }
  return at.slice(1).map((ms, k) => ms - at[k]!);
}

async function panel(count: number): Promise<number[]> {
  const store = new Store();
  store.setLink({ state: "open", lost_utc_s: null, retry_ms: null, what: "" }, performance.now());
  const box = document.body.appendChild(document.createElement("div"));
  box.style.width = `${WIDTH + 34}px`;
  const View = TRACE.view;
  render(<View store={store} />, box);
  const took = await frames(count, (k) => store.commit(pictures[k % PICTURES]!, performance.now(), performance.now()));
  render(null, box);
  box.remove();
  return took;
}

async function bare(count: number): Promise<number[]> {
  const canvas = document.body.appendChild(document.createElement("canvas"));
  Object.assign(canvas, { width: WIDTH, height: HEIGHT });
  const pen = canvas.getContext("2d")!;
  const took = await frames(count, (k) => {
    const { lines, power } = pictures[k % PICTURES]!.trace!;
    pen.clearRect(0, 0, WIDTH, HEIGHT);
    pen.lineWidth = 1.5; // the weight of two of the three lines; one path has but one
    pen.beginPath();
    for (const [{ low, high }, y0, ky] of [[lines[0]!, 82, 72 / 325], [lines[1]!, 82, 72 / 0.8], [power!, 218, 32 / 130]] as const) {
      let before = low[0]!;
      for (let c = 0; c < low.length; c++) {
        const x = 78 + (c * (WIDTH - 166)) / COLUMNS;
        pen.moveTo(x, y0 - Math.min(low[c]!, before) * ky);
        pen.lineTo(x, y0 - high[c]! * ky);
        before = high[c]!;
      }
    }
    pen.stroke();
  });
  canvas.remove();
  return took;
}

Object.assign(window, { bench: { panel, bare } });
