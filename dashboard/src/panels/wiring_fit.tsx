/** Which connection would fit: the six orders of the leads on one scale of the torque fraction. */
import type { JSX } from "preact";
import { type Fit, fractionWords } from "../core/wiring";
import { Words } from "../draw/dimension";
import { Drawing, type Size, type TableData } from "../draw/drawing";

const ROW = 34;
const TOP = 16;
const NARROW = 340; // below it halves have no room for their words
const SCALE = [-1, -0.5, 0, 0.5, 1] as const;

export function WiringFit({ fits, faint }: { fits: readonly Fit[]; faint: boolean }): JSX.Element {
  return (
    <Drawing
      title="Which connection of the leads would fit?"
      note="torque fraction: +1 runs as it was turned, −1 the other way, 0 stands"
      sentence={`Torque fraction of the six orders of the leads: ${fits.map((fit) => `${fit.words} ${fractionWords(fit.fraction)}`).join("; ")}.`}
      faint={faint}
      height={() => TOP + ROW * 6 + 24}
      table={() => table(fits)}
      words={(size) => <Scale fits={fits} size={size} />}
    />
  );
}

function Scale({ fits, size: { width } }: { fits: readonly Fit[]; size: Size }): JSX.Element {
  const left = width < 430 ? 148 : 176;
  const x = (fraction: number): number => left + 10 + ((fraction + 1) / 2) * (width - left - 74);
  const foot = TOP + ROW * 6 + 4;
  return (
    <>
      <line class="faint" x1={x(0)} x2={x(0)} y1={4} y2={foot} />
      {fits.map((fit, k) => {
        const y = TOP + ROW * k;
        return (
          <g key={fit.words}>
            <line class="faint" x1={left} x2={width - 44} y1={y} y2={y} />
            <Words x={left - 8} y={y + 5} class={`e${fit.best || fit.now ? " b" : ""}`}>{fit.words}</Words>
            {fit.best ? <rect class="ink" x={x(fit.fraction) - 6.5} y={y - 6.5} width={13} height={13} /> : <circle class="ring" cx={x(fit.fraction)} cy={y} r={5} />}
            <Words x={x(fit.fraction) + 12} y={y + 5} class={`halo${fit.best ? " b l" : ""}`}>{fractionWords(fit.fraction)}</Words>
          </g>
        );
      })}
      <line class="dim" x1={x(-1)} x2={x(1)} y1={foot} y2={foot} />
      {SCALE.filter((value) => width >= NARROW || value % 1 === 0).map((value) => (
        <g key={value}>
          <line class="dim" x1={x(value)} x2={x(value)} y1={foot - 3} y2={foot + 3} />
          <Words x={x(value)} y={foot + 17} class="m n">{value === 0 ? "0" : `${value > 0 ? "+" : "\u2212"}${Math.abs(value)}`}</Words>
        </g>
      ))}
    </>
  );
}

function table(fits: readonly Fit[]): TableData {
  return { head: ["leads", "torque fraction", ""], rows: fits.map((fit) => [fit.words, fractionWords(fit.fraction), [fit.now ? "now" : "", fit.best ? "best" : ""].filter(Boolean).join(", ")]) };
}
