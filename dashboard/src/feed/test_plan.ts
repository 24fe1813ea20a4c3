/** Test plans and cycles over HTTP. */
import type { Cycles } from "../core/cycles";
import type { PlanTables, TestPlan } from "../core/test_plan";
import { ask, change } from "./api";

const NEWEST = 100; // cycles that are told with their figures

const at = (rig: string): string => `api/rigs/${encodeURIComponent(rig)}/plan`;

export function testPlan(rig: string): Promise<TestPlan> {
  return ask<TestPlan>(at(rig));
}

/** Keeps a plan, as a person wrote it or as a form gave it; a refusal names line or field. */
export function setPlan(rig: string, plan: { readonly text: string } | { readonly tables: PlanTables }): Promise<TestPlan> {
  return change<TestPlan>(at(rig), plan, "PUT");
}

/** Puts the plan away; its file is kept beside it. */
export function removePlan(rig: string): Promise<TestPlan> {
  return change<TestPlan>(at(rig), {}, "DELETE");
}

export function runCycles(run: string): Promise<Cycles> {
  return ask<Cycles>(`api/runs/${encodeURIComponent(run)}/cycles?newest=${NEWEST}`);
}
