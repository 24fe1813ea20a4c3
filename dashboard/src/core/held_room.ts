/**
 * For how long there is room to record, held still: what is recorded in a second changes with what the motor does, and the time
 * left with it. Less is told at once, more only when it has been so for a while. Pure.
 */
import { roomWords } from "./words";

const HOLD_S = 300;

export interface HeldRoom {
  readonly room_s: number;
  readonly near_utc_s: number; // when it was told last that there is not more
}

export function heldRoom(held: HeldRoom | null, room_s: number, now_utc_s: number): HeldRoom {
  if (held === null || room_s <= held.room_s || now_utc_s - held.near_utc_s >= HOLD_S || now_utc_s < held.near_utc_s) return { room_s, near_utc_s: now_utc_s };
  return roomWords(room_s) === roomWords(held.room_s) ? { ...held, near_utc_s: now_utc_s } : held;
}
