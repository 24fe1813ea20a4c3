/** One calibration, step by step: cautions first, then what to do with the live reading beside it, then what came of it. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { type CalibratedChannel, type Calibration, type Look, type Measured, type What, type Wish, lookWords, seenWords } from "../core/calibration";
import { withUncertainty } from "../core/rounding";
import { CautionMark } from "../draw/marks";
import { keep, look, measure } from "../feed/calibration";
import { ReferenceForm } from "./calibrate_form";

const LOOK_MS = 1000;

interface Props {
  readonly rig: string;
  readonly calibration: Calibration;
  readonly channel: CalibratedChannel;
  readonly what: What;
  readonly onLeave: () => void;
  readonly onKept: (words: string) => void;
}

export function Calibrate({ rig, calibration, channel, what, onLeave, onKept }: Props): JSX.Element {
  const volts = calibration.channels.filter(({ role }) => role === "voltage");
  const agreed = useSignal(false);
  const wish = useSignal<Wish>({ what, channel: channel.channel, ...(what === "angle" && { against: volts[0]?.channel ?? 0, load: calibration.loads[0]?.key ?? "" }) });
  const seen = useSignal<Look | null>(null);
  const found = useSignal<Measured | null>(null);
  const trouble = useSignal("");
  const heading = useRef<HTMLHeadingElement>(null);
  const failed = (error: Error): void => { trouble.value = error.message; };
  useEffect(() => heading.current?.focus(), [agreed.value, found.value]);
  useEffect(() => {
    if (!agreed.value || found.value) return;
    const again = (): void => void look(rig, wish.value).then((now) => { seen.value = now; }, failed);
    again();
    const timer = setInterval(again, LOOK_MS);
    return () => clearInterval(timer);
  }, [agreed.value, found.value, wish.value]);

  const compare = (more: Partial<Wish>): void => {
    trouble.value = "";
    measure(rig, { ...wish.value, ...more }).then((measured) => { found.value = measured; }, failed);
  };
  const guide = calibration.guides[what];
  const leave = <button class="btn" type="button" onClick={onLeave}>Leave as it was</button>;
  return (
    <div class="next calibrate" role="group" aria-labelledby="calibrate" onKeyDown={(event) => { if (event.key === "Escape") onLeave(); }}>
      <h3 id="calibrate" tabIndex={-1} ref={heading}>{TITLES[what]} of {channel.name || channel.place}</h3>
      <p class="second">{guide.about}</p>
      {!agreed.value && (
        <>
          <ul class="cautions">{guide.cautions.map((caution) => <li key={caution}><CautionMark /><span>{caution}</span></li>)}</ul>
          <div class="row"><button class="btn first" onClick={() => { agreed.value = true; }}>I have seen to all of it</button>{leave}</div>
        </>
      )}
      {agreed.value && !found.value && (
        <>
          <ol class="steps">{guide.steps.map((step) => <li key={step}>{step}</li>)}</ol>
          <Live look={seen.value} what={what} />
          <ReferenceForm
            what={what} unit={channel.unit} volts={volts} loads={calibration.loads} wish={wish.value} fit={isFit(seen.value)}
            onWish={(now) => { wish.value = now; }} onCompare={compare} leave={leave}
          />
        </>
      )}
      {found.value && (
        <>
          <Result found={found.value} />
          <div class="row">
            <button class="btn first" onClick={() => { keep(rig).then(({ reference }) => onKept(`Kept: the ${what} of ${channel.name || channel.place}, against ${reference}. It holds from now on.`), failed); }}>Keep it</button>
            <button class="btn" onClick={() => { found.value = null; }}>Measure again</button>
            {leave}
          </div>
        </>
      )}
      {trouble.value && <p class="wrong" role="alert">{trouble.value}</p>}
    </div>
  );
}

const TITLES: Readonly<Record<What, string>> = { zero: "Zero", gain: "Gain", angle: "Angle" };

function isFit(seen: Look | null): boolean {
  return seen !== null && seen.pieces === seen.of && seen.refusal === "";
}

/** What the channel reads now; changing numbers are no live region. */
function Live({ look: seen, what }: { readonly look: Look | null; readonly what: What }): JSX.Element {
  return (
    <div class="live">
      <p class="lead">{seen ? lookWords(seen, what) : "–"}</p>
      <p class="second">{seen && seenWords(seen)}</p>
      {seen && seen.pieces === seen.of && seen.refusal && <p class="wrong">Not yet: {seen.refusal}.</p>}
    </div>
  );
}

function Result({ found }: { readonly found: Measured }): JSX.Element {
  const { what, unit, before, before_u95, after, after_u95, parts } = found;
  const sum = parts.reduce((all, { standard }) => all + standard ** 2, 0);
  const name = what === "angle" ? "the current leads by" : "it reads";
  return (
    <>
      <dl class="fields">
        <div><dt>before, {name}</dt><dd>{withUncertainty(before, before_u95, unit)}</dd></div>
        <div><dt>after, {name}</dt><dd>{withUncertainty(after, after_u95, unit)}</dd></div>
      </dl>
      <p class="second note">± is the 95 % uncertainty. It comes from {parts.map(({ source, standard }) => `${source} (${share(standard, sum)})`).join("; ")}.</p>
    </>
  );
}

/** By how much a part makes up the squared sum: what would be worth mending. */
function share(standard: number, sum: number): string {
  return sum > 0 ? `${Math.round((100 * standard ** 2) / sum)}\u00a0%` : "0\u00a0%";
}
