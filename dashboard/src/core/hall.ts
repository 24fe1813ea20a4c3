/** The Hall states found, put where they belong on the ring of six sectors. */
import type { Hall, Picture } from "./picture";
import { numberOf } from "./shown";

/** Above so many electrical turns a second a tick that follows the shaft would only flicker. */
const TURNS_SEEN_HZ = 2;

/**
 * Found state of each sector, sector 1 first; empty where none is known. States come in the order of
 * turning: turning backward they are read backward, and of a shaft that stands now as they fit better. Where they are the right ones, a state names its
 * sector; where not, the ring is turned so that most agree.
 */
export function foundBySector(hall: Hall): number[] {
  if (hall.seen.length !== hall.right.length) return [];
  const [forward, backward] = [[...hall.seen], [...hall.seen].reverse()];
  const orders = hall.direction ? [hall.direction < 0 ? backward : forward] : [forward, backward]; // of a shaft that stands: either
  const turns = orders.flatMap((order) => order.map((_, by) => [...order.slice(by), ...order.slice(0, by)]));
  const agree = (turn: readonly number[]): number => turn.filter((state, k) => state === hall.right[k]).length;
  return turns.reduce((best, turn) => (agree(turn) > agree(best) ? turn : best));
}

export function turnsTooFast(picture: Picture): boolean {
  const speed = numberOf(picture.readings, "speed_rpm");
  const pairs = picture.motor.plate["pole_pairs"] ?? 1;
  return speed !== null && (Math.abs(speed) / 60) * pairs > TURNS_SEEN_HZ;
}
