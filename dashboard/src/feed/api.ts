/** The few questions that the page asks over HTTP, beside the socket. Errors come out as sentences. */

export interface Port {
  readonly port: string;
  readonly says: string;
  readonly usable: boolean;
  readonly board: boolean; // a board answered there
}

export interface DemoMotor {
  readonly motor: string;
  readonly name: string;
  readonly about: string;
  readonly rig: string | null; // the rig that it runs on now
}

export function ports(): Promise<readonly Port[]> {
  return ask<readonly Port[]>("api/ports");
}

export function demoMotors(): Promise<readonly DemoMotor[]> {
  return ask<readonly DemoMotor[]>("api/demo");
}

/** Starts a software board; answers with the name of its rig. */
export async function startDemo(motor: string): Promise<string> {
  return (await change<{ rig: string }>("api/demo/start", { motor })).rig;
}

/** Makes a rig that reads this port; answers with its name. */
export async function usePort(port: string): Promise<string> {
  return (await change<{ rig: string }>("api/rigs", { name: rigName(port), port })).rig;
}

/** "/dev/ttyACM0" -> "ttyacm0": a name for the rig until a person gives another. */
function rigName(port: string): string {
  return port.split(/[\\/]/).pop()!.toLowerCase().replace(/[^a-z0-9-]+/g, "-").replace(/^-+|-+$/g, "") || "board";
}

function change<T>(path: string, body: object): Promise<T> {
  const headers = { "Content-Type": "application/json", "Slipring-Request": "1" };
  return ask<T>(path, { method: "POST", headers, body: JSON.stringify(body) });
}

async function ask<T>(path: string, init: RequestInit = {}): Promise<T> {
  const response = await fetch(path, { signal: AbortSignal.timeout(10_000), ...init });
  const text = await response.text();
  if (response.ok) return JSON.parse(text) as T;
  throw new Error(said(text) || `The service answered ${response.status}.`);
}

/** The service puts its sentence under `detail`. */
function said(text: string): string {
  try {
    const detail: unknown = (JSON.parse(text) as { detail?: unknown }).detail;
    return typeof detail === "string" ? detail : "";
  } catch {
    return "";
  }
}
