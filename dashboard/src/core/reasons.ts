/** One reason for many numbers stands once, above them; each number still carries its mark. */
import type { Shown } from "./shown";

/** From so many readings on a shared reason is said once. */
const SHARED_FROM = 3;

/** The reason shared by most, if it is shared by enough; else "". */
export function sharedReason(looks: readonly Shown[]): string {
  const counts = new Map<string, number>();
  for (const look of looks) {
    if (look.why) counts.set(reasonOf(look), (counts.get(reasonOf(look)) ?? 0) + 1);
  }
  const [reason, count] = [...counts].reduce((most, each) => (each[1] > most[1] ? each : most), ["", 0]);
  return count >= SHARED_FROM ? reason : "";
}

/** The reason without the word before it: doubtful and absent may share one. */
export function reasonOf(look: Shown): string {
  return look.why.replace(/^(doubtful|absent|stale): /, "");
}
