/** Who comes in, asked of the service: this page's session, the sessions of others, pairing, the answers of the PC. */
import { type Code, type Pairing, type Session, type Visitor, visitor } from "../core/visitor";
import { Refusal, ask, change } from "./api";

const AGAIN_MS = 2000;

/** Learns who looks at this page. A page whose session has ended makes way for the door. */
export async function learnVisitor(): Promise<void> {
  try {
    visitor.value = await ask<Visitor>("api/session");
  } catch (error) {
    if (error instanceof Refusal && error.status === 401) location.reload();
    else if (!visitor.value) setTimeout(() => void learnVisitor(), AGAIN_MS);
  }
}

export function sessions(): Promise<readonly Session[]> {
  return ask<readonly Session[]>("api/sessions");
}

export function endSession(number: number): Promise<unknown> {
  return change(`api/sessions/${number}`, {}, "DELETE");
}

/** Ends the session of this page itself. */
export function leave(): Promise<unknown> {
  return change("api/session", {}, "DELETE");
}

export function pairing(): Promise<Pairing> {
  return ask<Pairing>("api/pairing");
}

export function beginPairing(): Promise<Code> {
  return change<Code>("api/pairing", {});
}

export function endPairing(): Promise<unknown> {
  return change("api/pairing", {}, "DELETE");
}

export function answerQuestion(number: number, accept: boolean): Promise<unknown> {
  return change(`api/consents/${number}`, { accept });
}
