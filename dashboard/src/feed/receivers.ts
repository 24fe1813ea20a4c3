/** Receivers of alarms over HTTP. */
import type { Receivers } from "../core/receivers";
import { ask, change } from "./api";

const TEST_MS = 57_000; // the service waits 50 s for a receiver that does not answer

export function receivers(): Promise<Receivers> {
  return ask<Receivers>("api/receivers");
}

/** Sends a message that says it is a test; answers with what came of it. */
export async function testReceiver(name: string): Promise<string> {
  return (await change<{ said: string }>(`api/receivers/${encodeURIComponent(name)}/test`, {}, "POST", TEST_MS)).said;
}
