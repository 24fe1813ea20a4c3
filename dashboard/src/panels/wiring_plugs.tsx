/** The wires of a cable now and after: where each goes, by place and by the person's word for it. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { type Cable, type Mend, plugSentence, wireWords, wiresOf } from "../core/wiring";
import { Words } from "../draw/dimension";
import { watchWidth } from "../draw/drawing";

const HEIGHT = 118;
const TOP = 38;
const ROW = 30;
const LETTER = 24; // of a place alone
const PER_SIGN = 7.4; // of a name

/** One way to mend it: its drawing or drawings, and the words. */
export function MendDrawing({ mend }: { mend: Mend }): JSX.Element {
  return <>{mend.cables.map((cable) => <Plugs key={cable.what} cable={cable} />)}</>;
}

export function Plugs({ cable }: { cable: Cable }): JSX.Element {
  const box = useRef<HTMLDivElement>(null);
  const width = useSignal(0);
  useEffect(() => watchWidth(box.current!, (px, rem) => { width.value = Math.floor(px / rem); }), []);
  return (
    <div class="plot plugs" ref={box} role="img" aria-label={plugSentence(cable)} style={{ height: `${HEIGHT / 16}em` }}>
      {width.value > 0 && (
        <svg viewBox={`0 0 ${width.value} ${HEIGHT}`} aria-hidden="true">
          <Half cable={cable} x={0} width={width.value / 2} after={false} />
          <Half cable={cable} x={width.value / 2} width={width.value / 2} after />
        </svg>
      )}
    </div>
  );
}

function Half({ cable, x, width, after }: { cable: Cable; x: number; width: number; after: boolean }): JSX.Element {
  const words = cable.places.map((place, k) => wireWords(place, cable.names[k] ?? ""));
  const named = cable.names.some(Boolean);
  const room = Math.min(Math.max(LETTER, ...words.map((each) => each.length * PER_SIGN + 10)), width * 0.45);
  const from = x + room;
  const to = x + width - LETTER - 6;
  const middle = (from + to) / 2;
  const y = (k: number): number => TOP + ROW * k;
  return (
    <g>
      <Words x={x + width / 2} y={14} class="m n">{after ? "do this" : named ? "now" : `now: ${cable.what} to places`}</Words>
      {wiresOf(cable, after).map((wire) => (
        <g key={wire.from}>
          <path class="wire-under" d={`M${from} ${y(wire.from)}C${middle} ${y(wire.from)} ${middle} ${y(wire.to)} ${to} ${y(wire.to)}`} />
          <path class={`wire${wire.from === wire.to ? "" : " moved"}`} d={`M${from} ${y(wire.from)}C${middle} ${y(wire.from)} ${middle} ${y(wire.to)} ${to} ${y(wire.to)}`} />
          <circle class="ink" cx={from} cy={y(wire.from)} r={4.5} />
          <circle class="ink" cx={to} cy={y(wire.to)} r={4.5} />
          <Words x={from - 10} y={y(wire.from) + 5} class="e b">{words[wire.from]}</Words>
          <Words x={to + 10} y={y(wire.from) + 5} class="b">{cable.places[wire.from]}</Words>
        </g>
      ))}
    </g>
  );
}
