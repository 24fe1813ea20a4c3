/** How to connect the board to this type of motor: cautions first, the drawing, each point with what it makes possible and what the check says. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { type Connections, foundAt, foundOfAll, type Point, pointName, sumOf, verdictOf } from "../core/connections";
import type { Board, Finding, Picture } from "../core/picture";
import { SCHEMATICS } from "../core/schematics/index";
import type { Mark } from "../core/schematics/parts";
import type { Store } from "../core/store";
import { CautionMark } from "../draw/marks";
import { type MarkLook, SchematicDrawing } from "../draw/schematic";
import { motorConnections, Refusal } from "../feed/api";

export function Connect({ store }: { store: Store }): JSX.Element {
  const picture = store.calm.value;
  const type = picture?.motor.type ?? "";
  const known = useConnections(type);
  if (!picture || !type) return <p class="sheet">What kind of motor this is has not been said: <a href="#rig">Rig</a> asks for it. Then this page shows where probes and sensors go.</p>;
  if (typeof known === "string" || known?.type !== type) return <p class="sheet">{typeof known === "string" ? known : "Asking the service."}</p>;
  return (
    <>
      <Cautions cautions={known.cautions} />
      <div class="cols connect">
        <div class="stack"><Where known={known} picture={picture} /><Together findings={picture.findings} /></div>
        <div class="stack"><Points known={known} picture={picture} /></div>
      </div>
    </>
  );
}

const AGAIN_MS = 3000; // a busy service may not have answered, or may have been started anew
const BUSY = 500; // and all above it; below it the answer stays the same

/** What the service knows of this type; a sentence where it cannot be had, and then it is asked again; null until it has come. */
function useConnections(type: string): Connections | string | null {
  const known = useSignal<Connections | string | null>(null);
  useEffect(() => {
    let again = 0;
    let wanted = type !== "";
    const put = (): void => {
      motorConnections(type).then(
        (found) => { if (wanted) known.value = found; },
        (error: Error) => {
          if (!wanted) return;
          known.value = error.message;
          if (!(error instanceof Refusal) || error.status >= BUSY) again = window.setTimeout(put, AGAIN_MS);
        },
      );
    };
    known.value = null;
    if (wanted) put();
    return () => { wanted = false; window.clearTimeout(again); };
  }, [type]);
  return known.value;
}

function Cautions({ cautions }: { cautions: readonly string[] }): JSX.Element {
  return (
    <section class="sheet standing" aria-labelledby="before">
      <CautionMark />
      <div>
        <h2 id="before">Before a wire is moved</h2>
        <ul>{cautions.map((caution) => <li key={caution}>{caution}</li>)}</ul>
      </div>
    </section>
  );
}

function Where({ known, picture }: { known: Connections; picture: Picture }): JSX.Element | null {
  const schematic = SCHEMATICS[known.type];
  if (!schematic) return null;
  const look = (mark: Mark): MarkLook => ({
    name: pointName(mark.sensor, mark.place),
    fitted: isFitted(picture, mark),
    wrong: verdictOf(foundAt(picture.findings, mark.sensor, mark.place)) === "wrong",
  });
  const sentence = `Where the sensors go. ${known.points.map((point) => `${pointName(point.sensor, point.place)}: ${point.where}`).join(". ")}.`;
  return <SchematicDrawing schematic={schematic} title="Where the sensors go" note={`${known.label}; dotted: no channel of this board`} sentence={sentence} look={look} />;
}

/** Whether the board has a channel or input for a point. */
function isFitted({ board, hall, readings }: Picture, { sensor, place }: Pick<Point, "sensor" | "place">): boolean {
  if (sensor === "hall") return hall !== null;
  if (sensor === "pulse") return readings["speed_rpm"] !== undefined;
  return (board as Board | null)?.channels.some((each) => each.role === sensor && each.place.toLowerCase() === place.toLowerCase()) ?? false;
}

function Together({ findings }: { findings: readonly Finding[] }): JSX.Element {
  const all = foundOfAll(findings);
  return (
    <section class="sheet" aria-labelledby="together">
      <h2 id="together"><span>Are they right?</span> <small>{sumOf(findings)}</small></h2>
      <p class="second">What a running motor shows, told once several windows agree. A motor that brakes or is driven can look as if a sensor were turned round: run it unloaded or loaded, not braking.</p>
      {all.length > 0 && <ul class="found">{all.map((each) => <Found key={each.key} finding={each} />)}</ul>}
    </section>
  );
}

function Points({ known, picture }: { known: Connections; picture: Picture }): JSX.Element {
  const parts = [["Needed", known.points.filter((each) => each.needed)], ["More, and what it makes possible", known.points.filter((each) => !each.needed)]] as const;
  return (
    <>
      {parts.map(([title, points]) => points.length > 0 && (
        <section key={title} class="sheet points">
          <h2>{title}</h2>
          <ul>{points.map((point) => <PointRow key={`${point.sensor} ${point.place}`} point={point} picture={picture} />)}</ul>
        </section>
      ))}
    </>
  );
}

function PointRow({ point, picture }: { point: Point; picture: Picture }): JSX.Element {
  const found = foundAt(picture.findings, point.sensor, point.place);
  const verdict = verdictOf(found.filter(({ key }) => key !== "fitted" && key !== "alive")) ?? verdictOf(found);
  const fitted = isFitted(picture, point);
  const word = found.some((each) => each.verdict === "wrong") ? "wrong" : fitted ? verdict ?? "fitted" : "no channel";
  const said = found.filter((each) => each.verdict === "wrong" || (each.verdict === "unknown" && word !== "wrong"));
  return (
    <li>
      <p class="name"><b class={point.sensor}>{pointName(point.sensor, point.place)}</b> <Verdict word={word} /></p>
      <p>{capital(point.where)}; {point.arrow}.</p>
      <p class="second">{capital(point.makes)}.</p>
      {said.length > 0 && <ul class="found">{(word === "wrong" ? said : said.slice(0, 1)).map((each) => <Found key={each.key} finding={each} />)}</ul>}
      {word === "right" && <p class="second note">{found.find(({ key }) => TELLING.includes(key))?.text}</p>}
    </li>
  );
}

/** Whose sentence says most of a point that is right. */
const TELLING: readonly string[] = ["arrow", "across", "capacitor", "probe"];

const WORDS: Readonly<Record<string, string>> = { right: "right", wrong: "wrong", unknown: "can't be told yet", fitted: "has its channel", "no channel": "no channel of this board" };

function Verdict({ word }: { word: string }): JSX.Element {
  return <span class={`tag${word === "wrong" ? " caution" : ""}`}>{word === "wrong" && <CautionMark />}{WORDS[word]}</span>;
}

function Found({ finding }: { finding: Finding }): JSX.Element {
  return (
    <li class={finding.verdict}>
      {finding.verdict === "wrong" ? <b>{finding.text}</b> : finding.text}
      {finding.change && <span class="second"> {finding.change.charAt(0).toUpperCase() + finding.change.slice(1).replace(/\.$/, "")}.</span>}
    </li>
  );
}

function capital(words: string): string {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
