/** Who looks at this page: a browser of the PC, or a paired device, which changes things with the consent of the PC only. */
import { computed, signal } from "@preact/signals-core";

export interface Visitor {
  readonly kind: "browser" | "device" | "script";
  readonly name: string;
  readonly number: number | null;
  readonly may: readonly string[]; // look, mark, change, pc: by itself
  readonly bench: boolean; // comes in by the bench network
  readonly encrypted: boolean;
}

/** What a device asks for, and how long it waits still. */
export interface Question {
  readonly number: number;
  readonly device: string;
  readonly act: string; // follows "asks to"
  readonly left_s: number;
}

/** What waits for the consent of the PC, as it was told at a moment of the page's clock. */
export interface Asked {
  readonly questions: readonly Question[];
  readonly at_ms: number;
}

export interface Session {
  readonly number: number;
  readonly kind: "browser" | "device";
  readonly name: string;
  readonly source: string;
  readonly made_utc_s: number;
  readonly used_utc_s: number;
  readonly may: readonly string[];
}

/** Where other devices find the service; url "": nowhere; fingerprint "": not encrypted; open_s: how long a code holds. */
export interface Pairing {
  readonly url: string;
  readonly fingerprint: string;
  readonly open_s: number;
}

export interface Code extends Pairing {
  readonly code: string;
  readonly square: readonly string[]; // rows of 0 and 1
}

export const visitor = signal<Visitor | null>(null);
/** Changes are asked about at the PC. Until it is known who looks, nothing is asked by itself. */
export const asksFirst = computed(() => visitor.value?.kind === "device");
export const isKnown = computed(() => visitor.value !== null);
export const notEncrypted = computed(() => visitor.value !== null && visitor.value.bench && !visitor.value.encrypted);

/** What a session may do, in words. */
export function mayWords({ may }: { readonly may: readonly string[] }): string {
  return may.includes("change") ? "looks, marks and changes" : "looks and marks; changes and deletes with the consent of the PC";
}

/** Seconds that a question waits still, whole and never less than none. */
export function leftOf(question: Question, { at_ms }: Asked, now_ms: number): number {
  return Math.max(0, Math.ceil(question.left_s - (now_ms - at_ms) / 1000));
}

/** "A1:B2:C3:D4:..." -> ["A1 B2 C3 D4 E5 F6 A7 B8", ...]: four lines, so that they can be compared. */
export function fingerprintLines(fingerprint: string): readonly string[] {
  const pairs = fingerprint.split(":");
  return [0, 8, 16, 24].map((from) => pairs.slice(from, from + 8).join(" ")).filter(Boolean);
}

const QUIET = 4; // modules of white round a square code (ISO/IEC 18004, from memory)

/** A square code as one path in units of a module, its quiet zone included; its side. */
export function squarePath(rows: readonly string[]): { readonly d: string; readonly side: number } {
  const d = rows.flatMap((row, y) => [...row.matchAll(/1+/g)].map((run) => `M${run.index + QUIET} ${y + QUIET}h${run[0].length}v1h-${run[0].length}z`)).join("");
  return { d, side: rows.length + 2 * QUIET };
}
