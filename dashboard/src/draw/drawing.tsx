/**
 * One drawing: lines on a canvas, words and dimensions as SVG above it, one sentence for those who
 * cannot see it, and the same numbers as a table on request. Sizes are in pixels of a 16 px root; the
 * drawing grows with the type. Paints whenever a signal that `paint` has read changes.
 */
import { effect, useSignal } from "@preact/signals";
import type { ComponentChildren, JSX } from "preact";
import { useEffect, useId, useRef } from "preact/hooks";
import { frame } from "./frame";
import { type Texture, texture } from "./hatch";
import { epoch, token } from "./theme";

/** Below this width a drawing drops words for lines. */
const SLIM = 560;

export interface Size {
  readonly width: number;
  readonly height: number;
  readonly slim: boolean;
}

export interface Pen {
  readonly canvas: CanvasRenderingContext2D;
  readonly scale: number; // device pixels to a pixel
  readonly color: (role: string) => string;
  readonly texture: (kind: Texture) => CanvasPattern | string;
}

export interface TableData {
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
}

interface Props {
  readonly title: string;
  readonly note?: string;
  readonly sentence: string;
  readonly height: (width: number) => number;
  readonly paint?: (pen: Pen, size: Size) => void;
  readonly words: (size: Size) => ComponentChildren;
  readonly table?: () => TableData;
  readonly below?: ComponentChildren; // between drawing and table
  readonly onTable?: (open: boolean) => void;
  readonly faint?: boolean;
  readonly onPress?: (x: number, y: number, size: Size) => void; // what is pressed can be done by keys elsewhere
  readonly held?: string; // said of a picture that is held
  readonly over?: (size: Size) => ComponentChildren; // above the picture, what is moved by hand
}

export function Drawing(props: Props): JSX.Element {
  const box = useRef<HTMLDivElement>(null);
  const canvas = useRef<HTMLCanvasElement>(null);
  const width = useSignal(0);
  const scale = useSignal(1);
  const open = useSignal(false);
  const current = useRef(props);
  current.current = props;
  const id = useId();

  useEffect(() => watchWidth(box.current!, (px, rem) => {
    width.value = Math.floor(px / rem);
    scale.value = rem;
  }), []);
  useEffect(() => effect(() => {
    epoch.value; // a new theme is a reason to paint
    const { paint, height } = current.current;
    const size = sizeOf(width.value, height);
    // While the drawing is being taken off the page its canvas is gone before this effect is.
    if (paint && size.width && canvas.current) paintOn(canvas.current, size, scale.value, paint);
  }), [props.height, props.paint]);

  const toggle = (): void => {
    open.value = !open.value;
    props.onTable?.(open.value);
  };
  const press = (event: MouseEvent): void => {
    const { left, top } = box.current!.getBoundingClientRect();
    props.onPress?.((event.clientX - left) / scale.value, (event.clientY - top) / scale.value, sizeOf(width.value, props.height));
  };
  const size = sizeOf(width.value, props.height);
  const table = open.value ? props.table?.() : undefined;
  return (
    <section class={`sheet drawing${props.faint ? " faint" : ""}${props.held ? " held" : ""}`} aria-labelledby={id}>
      <h2 id={id}>
        <span>{props.title}</span> {props.held && <span class="tag held">{props.held}</span>} {props.note && <small>{props.note}</small>}
        {props.table && (
          <button class="as-table" aria-expanded={open.value} onClick={toggle}>
            as a table
          </button>
        )}
      </h2>
      <div class="plotted">
        <div class="plot" ref={box} role="img" aria-label={props.sentence} onClick={press} style={{ height: `${props.height(size.width) / 16}em`, "--ratio": size.width / props.height(size.width) }}>
          <canvas ref={canvas} aria-hidden="true" />
          {size.width > 0 && (
            <svg viewBox={`0 0 ${size.width} ${size.height}`} aria-hidden="true">
              {props.words(size)}
            </svg>
          )}
        </div>
        {size.width > 0 && props.over?.(size)}
      </div>
      {props.below}
      {table && <Table data={table} caption={props.title} />}
    </section>
  );
}

export function Table({ data, caption }: { data: TableData; caption: string }): JSX.Element {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={`${caption} as a table`}>
      <table>
        <caption class="sr">{caption}</caption>
        <thead><tr>{data.head.map((cell) => <th key={cell} scope="col">{cell}</th>)}</tr></thead>
        <tbody>
          {data.rows.map((row, k) => (
            <tr key={k}>{row.map((cell, j) => (j ? <td key={j}>{cell}</td> : <th key={j} scope="row">{cell}</th>))}</tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function sizeOf(width: number, height: (width: number) => number): Size {
  return { width, height: height(width), slim: width < SLIM };
}

/** Reports the width of a box now and whenever it changes, in pixels, and the size of its type against 16 px. */
export function watchWidth(box: HTMLElement, report: (px: number, rem: number) => void): () => void {
  const measure = (): void => {
    if (box.clientWidth) report(box.clientWidth, parseFloat(getComputedStyle(box).fontSize) / 16);
  };
  const observer = new ResizeObserver(() => frame.request(measure));
  observer.observe(box);
  measure();
  return () => observer.disconnect();
}

function paintOn(canvas: HTMLCanvasElement, size: Size, rem: number, paint: (pen: Pen, size: Size) => void): void {
  const scale = rem * devicePixelRatio;
  const [width, height] = [Math.round(size.width * scale), Math.round(size.height * scale)];
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
  const context = canvas.getContext("2d");
  if (!context) return;
  context.setTransform(scale, 0, 0, scale, 0, 0);
  context.clearRect(0, 0, size.width, size.height);
  paint({ canvas: context, scale, color: token, texture: (kind) => texture(context, kind, scale) }, size);
}
