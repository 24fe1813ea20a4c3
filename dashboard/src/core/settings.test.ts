/** What is typed in a form, as the service takes it. */
import { expect, it } from "vitest";
import { alarmLacks } from "./alarms";
import { planLacks } from "./test_plan";
import { isAbout, lacksLimit, motorChange, motorFields, numberFrom, rigChange } from "./settings";

it.each([["1,5", 1.5], [" 230 ", 230], ["", null], ["230 V", "230 V"], ["−1", -1], ["Infinity", "Infinity"]])("%j is %j", (text, value) => {
  expect(numberFrom(text)).toBe(value);
});

it("sends of the rig what was changed, of the motor all that is said", () => {
  expect(rigChange({ "rig.baud": "9600", "rig.port": " /dev/x " }, { "rig.baud": "9600", "rig.port": "" })).toEqual({ port: "/dev/x" });
  const motor = { "motor.name": " fan ", "motor.type": "servo", "motor.plate.voltage_v": "230", "motor.plate.speed_rpm": "", "motor.plate.pole_pairs": "two" };
  expect(motorChange(motor)).toEqual({ name: "fan", type: "servo", plate: { voltage_v: 230, pole_pairs: "two" } });
});

it("asks of a plate what a motor of its type can have, and keeps what was said", () => {
  const types = [{ type: "servo", label: "Servo", supply: "direct" }, { type: "brushless", label: "Brushless", supply: "direct" }, { type: "universal", label: "Universal", supply: "alternating" }] as const;
  const asked = (type: string, before: Record<string, string> = {}): string[] =>
    motorFields(types).filter((each) => each.asked && !each.asked({ "motor.type": type }, before)).map(({ key }) => key.split(".")[2] ?? "");
  expect(asked("servo")).toEqual(["frequency_hz", "run_capacitor_uf", "hall_spacing_deg"]);
  expect(asked("servo", { "motor.plate.frequency_hz": "50" })).toEqual(["run_capacitor_uf", "hall_spacing_deg"]);
  expect([asked("brushless"), asked("universal"), asked("")]).toEqual([["frequency_hz", "run_capacitor_uf"], ["hall_spacing_deg"], ["hall_spacing_deg"]]);
});

it("says what a form lacks in the words of its fields", () => {
  expect(lacksLimit({ low: "", high: " " })).toEqual(["low", expect.stringContaining("fill in Lowest, Highest or both")]);
  expect(lacksLimit({ high: "3" })).toBeNull();
  expect(alarmLacks("limit")({ act: " ", high: "3" })).toEqual(["act", expect.stringContaining("does not say what to do first")]);
  expect([alarmLacks("limit")({ act: "Switch off" })?.[0], alarmLacks("silence")({ act: "Switch off" })]).toEqual(["low", null]);
  expect([planLacks({})?.[0], planLacks({ "test.specimen": "fan" })?.[0], planLacks({ "test.specimen": "fan", "test.goal_hours": "2" })]).toEqual(["test.specimen", "test.goal_cycles", null]);
});

it("knows its field by the key of the file and by that of the request", () => {
  expect(isAbout("rig.baud", "rig.baud") && isAbout("rig.baud", "baud") && isAbout("motor.plate.speed_rpm", "motor.plate.speed_rpm")).toBe(true);
  expect(isAbout("high", "limits.current_rms_a.high")).toBe(true);
  expect(isAbout("rig.baud", "rig.port") || isAbout("high", "limits.high.low") || isAbout("rig.baud", "")).toBe(false);
});
