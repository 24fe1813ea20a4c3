/** How the board is connected: the points of a motor type, what the check says of each, and the sum of it. Pure. */
import type { Finding } from "./picture";
import type { Sensor } from "./schematics/parts";

export interface Point {
  readonly sensor: Sensor;
  readonly place: string;
  readonly needed: boolean;
  readonly where: string;
  readonly arrow: string;
  readonly makes: string;
}

export interface Connections {
  readonly type: string;
  readonly label: string;
  readonly cautions: readonly string[];
  readonly points: readonly Point[];
}

/** "U supply", "I line", "Hall A", "pulse"; beside a phase U the voltage is written out. */
export function pointName(sensor: Sensor, place: string): string {
  if (sensor === "hall") return `Hall ${place}`;
  if (sensor === "pulse") return "pulse";
  if (sensor === "current") return `I ${place}`;
  return /^[UVW]$/.test(place) ? `voltage ${place}` : `U ${place}`;
}

/** What was found of one point, the worst first. */
export function foundAt(findings: readonly Finding[], sensor: string, place: string): readonly Finding[] {
  return worstFirst(findings.filter((each) => each.sensor === sensor && each.place.toLowerCase() === place.toLowerCase()));
}

/** What was found of all together: order, sums. */
export function foundOfAll(findings: readonly Finding[]): readonly Finding[] {
  return worstFirst(findings.filter((each) => !each.sensor));
}

const RANK: Readonly<Record<Finding["verdict"], number>> = { wrong: 0, unknown: 1, right: 2 };

export function worstFirst(findings: readonly Finding[]): readonly Finding[] {
  return [...findings].sort((one, other) => RANK[one.verdict] - RANK[other.verdict]);
}

/** The verdict of several: the worst of them; null where there is nothing to judge by. */
export function verdictOf(findings: readonly Finding[]): Finding["verdict"] | null {
  return worstFirst(findings)[0]?.verdict ?? null;
}

/** "2 wrong, 3 can't be told yet, 12 right". */
export function sumOf(findings: readonly Finding[]): string {
  const count = (verdict: Finding["verdict"]): number => findings.filter((each) => each.verdict === verdict).length;
  const parts = [[count("wrong"), "wrong"], [count("unknown"), "can't be told yet"], [count("right"), "right"]] as const;
  return parts.filter(([number]) => number).map(([number, word]) => `${number} ${word}`).join(", ") || "nothing told yet";
}
