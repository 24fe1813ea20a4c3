/** What was lost on the way from the sensor to the page, and where. Pure. */
import { number } from "./format";
import type { Damage } from "./picture";

export interface Loss {
  readonly where: string;
  readonly amount: string;
  readonly none: boolean;
}

/** Wire, board and what follows from both are always told; what else a sound board never has only where there is some. */
export function losses(damage: Damage): Loss[] {
  const { frames, frames_lost, checksum, dropped_blocks, overruns, samples_missing, unknown_frames, unknown_fields } = damage;
  const loss = (where: string, count: number, unit: string): Loss => ({ where, amount: `${number(count)}${unit}`, none: count === 0 });
  return [
    loss("Lost on the wire", frames_lost, ` of ${number(frames + frames_lost)} frames`),
    ...(checksum ? [loss("With a wrong checksum", checksum, checksum === 1 ? " frame" : " frames")] : []),
    loss("Dropped by the board", dropped_blocks, dropped_blocks === 1 ? " block" : " blocks"),
    ...(overruns ? [loss("Not measured in time", overruns, overruns === 1 ? " sample" : " samples")] : []),
    ...(unknown_frames ? [loss("Skipped, of a later version", unknown_frames, unknown_frames === 1 ? " frame" : " frames")] : []),
    ...(unknown_fields ? [loss("Skipped, of a later version", unknown_fields, unknown_fields === 1 ? " field" : " fields")] : []),
    loss("Missing in all", samples_missing, samples_missing === 1 ? " sample" : " samples"),
  ];
}
