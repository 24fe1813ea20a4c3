/** Measures that stand in the drawing, as in a workshop drawing: dimensions with arrow heads, leaders, low indices. */
import type { ComponentChildren, JSX } from "preact";

const FITS = 26; // arrows stand inside from this width on, else outside

const px = (value: number): number => Math.round(value * 2) / 2; // half pixels: no attribute changes for noise

function Head({ x, y, deg }: { x: number; y: number; deg: number }): JSX.Element {
  return <path class="ink" d="M0 0L-9 2.6L-9 -2.6Z" transform={`translate(${px(x)} ${px(y)}) rotate(${deg})`} />;
}

interface Across {
  readonly from: number;
  readonly to: number;
  readonly y: number;
  readonly reachFrom: number; // y at which the lines that carry the dimension begin
}

/** A dimension between two places on the time axis. */
export function DimensionAcross({ from, to, y, reachFrom }: Across): JSX.Element {
  const [a, b] = from < to ? [px(from), px(to)] : [px(to), px(from)];
  const inside = b - a > FITS;
  return (
    <g>
      {[a, b].map((x, k) => <line key={k} class="dim" x1={x} x2={x} y1={reachFrom} y2={y + 5} />)}
      <line class="dim" x1={inside ? a : a - 16} x2={inside ? b : b + 16} y1={y} y2={y} />
      <Head x={a} y={y} deg={inside ? 180 : 0} />
      <Head x={b} y={y} deg={inside ? 0 : 180} />
    </g>
  );
}

/** A dimension between two heights. */
export function DimensionUpright({ from, to, x, reachFrom }: { from: number; to: number; x: number; reachFrom: number }): JSX.Element {
  const [a, b] = from < to ? [px(from), px(to)] : [px(to), px(from)];
  const inside = b - a > FITS;
  return (
    <g>
      {[a, b].map((y, k) => <line key={k} class="dim" x1={reachFrom} x2={x + 6} y1={y} y2={y} />)}
      {inside ? <line class="dim" x1={x} x2={x} y1={a} y2={b} /> : <path class="dim" d={`M${x} ${a - 15}V${a}M${x} ${b}V${b + 15}`} />}
      <Head x={x} y={a} deg={inside ? -90 : 90} />
      <Head x={x} y={b} deg={inside ? 90 : -90} />
    </g>
  );
}

/** A dot on the thing, a line to its words. */
export function Leader({ x, y, toX, toY }: { x: number; y: number; toX: number; toY: number }): JSX.Element {
  return (
    <g>
      <circle class="ink" cx={px(x)} cy={px(y)} r={3} />
      <line class="dim" x1={px(x)} y1={px(y)} x2={px(toX)} y2={px(toY)} />
    </g>
  );
}

interface WordsProps {
  readonly x: number;
  readonly y: number;
  readonly class?: string;
  readonly children: ComponentChildren;
}

export function Words({ x, y, class: name = "", children }: WordsProps): JSX.Element {
  return <text class={name} transform={`translate(${px(x)} ${px(y)})`}>{children}</text>;
}

/** A symbol with its low index, as text of a drawing. */
export function Low({ base, index }: { base: string; index: string }): JSX.Element {
  return (
    <>
      {base}
      <tspan dy="0.25em" class="low">{index}</tspan>
      <tspan dy="-0.18em">&#8203;</tspan>
    </>
  );
}
