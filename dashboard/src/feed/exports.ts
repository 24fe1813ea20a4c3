/** Exports and reports of runs over HTTP: formats, size beforehand, made, watched, taken away. */
import type { ExportWish, Format, Making, Size } from "../core/exports";
import { ask, change } from "./api";

const PATIENCE_MS = 70_000; // the service itself gives up after a minute

export function formats(): Promise<readonly Format[]> {
  return ask<readonly Format[]>("api/exports/formats");
}

export function exportSize(run: string, { as, what, from_utc_s, to_utc_s }: ExportWish, given_up: AbortSignal): Promise<Size> {
  const asked = new URLSearchParams({ as, what });
  if (from_utc_s !== null) asked.set("from_utc_s", String(from_utc_s));
  if (to_utc_s !== null) asked.set("to_utc_s", String(to_utc_s));
  return ask<Size>(`api/runs/${encodeURIComponent(run)}/export-size?${asked.toString()}`, { signal: AbortSignal.any([given_up, AbortSignal.timeout(PATIENCE_MS)]) });
}

export function beginExport(run: string, wish: ExportWish): Promise<Making> {
  return change<Making>("api/exports", { run, ...wish });
}

export function beginReport(run: string, as: "pdf" | "html"): Promise<Making> {
  return change<Making>(`api/runs/${encodeURIComponent(run)}/report`, { as });
}

export function fileSize(run: string): Promise<Size> {
  return ask<Size>(`api/runs/${encodeURIComponent(run)}/file-size`);
}

export function beginFile(run: string): Promise<Making> {
  return change<Making>(`api/runs/${encodeURIComponent(run)}/file`, {});
}

export function exportsOf(run: string): Promise<readonly Making[]> {
  return ask<readonly Making[]>("api/exports").then((all) => all.filter((each) => each.run === run));
}

export function removeExport(number: number): Promise<unknown> {
  return change(`api/exports/${number}`, {}, "DELETE");
}
