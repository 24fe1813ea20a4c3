/** Direct current: the mean as a line, and in words with the ripple on it, from peak to peak of what is drawn. */
import type { JSX } from "preact";
import { number, withUnit } from "../core/format";
import { rippleOf } from "../core/ripple";
import type { Line } from "../core/picture";
import { Words } from "../draw/dimension";
import type { RowProps } from "./trace_words";

export function Means({ place: { row, y0, half }, layout, readings, ends, slim }: RowProps): JSX.Element | null {
  const found = ([row.voltage, row.current] as const).filter((line): line is Line => line !== null).flatMap((line) => rippleOf(line, readings) ?? []);
  if (!found.length) return null;
  const written = found.map(({ line, mean, swing, percent }) => {
    const share = percent === null ? "" : `, ${withUnit(number(percent, percent < 9.95 ? 1 : 0), "%")}`;
    return { line, text: slim ? `${line.role === "voltage" ? "u" : "i"} mean ${mean}, ripple ${swing}${share}` : `mean ${line.role} ${mean}, ripple ${swing} from peak to peak${share}` };
  });
  return (
    <>
      {found.map(({ line, value }) => {
        const y = y0 - (value * half) / ends.end(line.role as "voltage" | "current", true);
        return line.role === "current" && <line key={line.role} class="ghost" x1={layout.left} x2={layout.right} y1={y} y2={y} />;
      })}
      {written.map(({ line, text }, k) => (
        <Words key={line.role} x={slim ? layout.left : layout.left + 10 + k * 0.5 * (layout.right - layout.left)} y={layout.dimensionY + 5 - (slim ? 20 * (written.length - 1 - k) : 0)} class={`${line.role} halo`}>{text}</Words>
      ))}
    </>
  );
}
